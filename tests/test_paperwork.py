"""Receipts and the order list: what they say, and that the code on them is read back."""

from __future__ import annotations

import csv
import io
import json
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from pypdf import PdfReader

from foible.errors import InputError, NotFoundError
from foible.output.order_list import order_csv, order_pdf
from foible.output.receipt_pdf import receipts_pdf
from foible.records import Database
from foible.records.trail import Who
from foible.services.paperwork import Order, named_things, orders, receipt_of
from foible.services.transfer.taking import Transfer
from paper import scanned

if TYPE_CHECKING:
    from collections.abc import Iterator

TODAY = date(2026, 11, 28)
REGISTER = Path(__file__).parent / "data" / "register.json"


@pytest.fixture(scope="module")
def database(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Database]:
    opened = Database(f"sqlite:///{tmp_path_factory.mktemp('register') / 'records.db'}")
    transfer = Transfer(opened, clock=lambda: datetime(2026, 11, 28, tzinfo=UTC))
    tables: dict[str, Any] = json.loads(REGISTER.read_text("utf-8"))
    tables["parts"] = [*tables["parts"], {"code": "s2", "name": "=tip screw", "least": 30}]
    transfer.take(transfer.tried(json.dumps(tables).encode(), name="register.json"), by=Who())
    yield opened
    opened.dispose()


def words_of_pdf(data: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages).split())


def test_a_receipt_says_what_was_done_and_its_code_leads_to_the_item(database: Database) -> None:
    done, waiting = database.read(lambda session: [receipt_of(session, number) for number in (1, 2)])
    pdf = receipts_pdf([done, waiting], ["http://here.example/i/wfk3m", "g2"])
    assert [[read.text for read in page] for page in scanned(pdf)] == [["http://here.example/i/wfk3m"], ["g2"]]
    words = words_of_pdf(pdf)
    for said in ("Job 1", "wfk3m", "foil · practice foil 3", "Ada Brook", "20 November 2026", "it went white", "21 November 2026",
                 "weapon barrel thread: loose or cracked", "2 × foil pressure spring, 1.80", "Job 2", "the club"):  # fmt: skip
        assert said in words, said


def test_the_order_list_fills_up_to_the_least_count_and_sums_what_is_known(database: Database) -> None:
    found = database.read(orders)
    assert [(each.code, each.order) for each in found] == [("s2", 30)]
    rows = list(csv.DictReader(io.StringIO(order_csv(found).decode("utf-8-sig"))))
    assert (rows[0]["part"], rows[0]["order"], rows[0]["price"]) == ("'=tip screw", "30", "")
    more = Order("s9", "plug pin", "Brightwell", "", "C2", 21, 30, 9, 80)
    words = words_of_pdf(order_pdf([more, *found], today=TODAY))
    for said in ("28 November 2026", "Brightwell", "plug pin", "7.20", "No supplier named", "=tip screw", "1 without a price"):
        assert said in words, said
    assert "enough of everything" in words_of_pdf(order_pdf([], today=TODAY))


def test_labels_tell_items_and_parts_each_once_in_the_order_asked_for(database: Database) -> None:
    found = database.read(lambda session: named_things(session, ["s1", "WFK-3m", "s1"]))
    assert [(each.code, each.lines[0]) for each in found] == [("s1", "foil pressure spring"), ("wfk3m", "foil")]
    assert "bayonet socket" in found[1].lines
    with pytest.raises(NotFoundError, match="nowhere"):
        database.read(lambda session: named_things(session, ["nowhere"]))
    with pytest.raises(InputError, match="too many"):
        database.read(lambda session: named_things(session, [str(number) for number in range(2001)]))
