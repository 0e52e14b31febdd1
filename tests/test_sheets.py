"""Sheets as data, filled in and kept: every limit from the rules, one bad row fails it, and no advice to use what failed."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pypdfium2  # type: ignore[import-untyped]  # it says nothing about its types
import pytest

from client import FromHere, TestClient, send
from foible.errors import UnknownNameError
from foible.output.strip_sheets_pdf import empty_sheet_pdf
from foible.rules.requirements import requirements
from foible.services.control.filled_sheets import outcome_of
from foible.services.control.sheets import sheet_named, sheet_tables, sheets_for
from foible.services.opening import open_cases
from foible.services.register.kinds import kinds
from foible.web.application import create_app
from foible.web.settings import Settings

if TYPE_CHECKING:
    from collections.abc import Iterator


WEAPONS = ("foil", "épée", "sabre")
NOT_BY_BOX = {"any-spares"}
"""What Annex B and m.51 ask of an apparatus that no sheet about one apparatus can hold: how many spares there are."""


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    cases = open_cases(f"sqlite:///{tmp_path_factory.mktemp('sheets') / 'records.db'}")
    app = create_app(cases, Settings(secret="a", hosts=("testserver",)))
    with TestClient(FromHere(app)) as made:
        yield made


# --- the data -----------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("weapon", WEAPONS)
def test_the_protocol_has_a_step_for_everything_that_the_rules_ask_of_an_apparatus(weapon: str) -> None:
    """FIE Material Rules, August 2026, Annex B and m.51, as `rules/` has them."""
    held = {field.requirement.id for field in sheet_named("apparatus", weapon).fields if field.requirement}
    asked = {each.id for each in requirements(kind="apparatus", weapon=weapon)}
    assert asked - held == NOT_BY_BOX


@pytest.mark.parametrize("weapon", WEAPONS)
def test_every_step_that_sets_something_says_what_to_expect(weapon: str) -> None:
    for field in sheet_named("apparatus", weapon).fields:
        assert bool(field.row.set) <= bool(field.row.expect), field.key
        assert field.limit


@pytest.mark.parametrize(
    ("name", "weapon", "key", "limit"),
    [
        ("reel", None, "rest.A", "≤ 3 Ω (m.55.1)"),
        ("reel", None, "drawn.C", "≤ 3 Ω (m.55.1)"),
        ("reel", None, "length", "≥ 20 m (m.55.3)"),
        ("floor-cable", None, "bent.B", "≤ 2.5 Ω (m.55.5)"),
        ("piste", None, "ends", "≤ 5 Ω (m.57.1)"),
        ("blade", "foil", "curve", "< 1 cm (m.8.6)"),
        ("blade", "sabre", "curve", "< 4 cm (m.23.3)"),
        ("blade", "épée", "droop", "4.5–7 cm (m.16.5)"),
        ("blade", "foil", "droop", "5.5–9.5 cm (m.8.5)"),
        ("apparatus", "foil", "break", "13–15 ms (Annex B A.1(b)1)"),
        ("apparatus", "foil", "yellow", "450–475 Ω (Annex B A.2)"),
        ("apparatus", "épée", "double", "40–50 ms (Annex B B(b))"),
        ("apparatus", "sabre", "block", "160–180 ms (Annex B C(a)8)"),
    ],
)
def test_a_row_has_the_limit_of_the_rules_with_its_clause(name: str, weapon: str | None, key: str, limit: str) -> None:
    """FIE Material Rules, August 2026."""
    assert next(field.limit for field in sheet_named(name, weapon).fields if field.key == key) == limit


def test_a_sheet_is_about_a_kind_of_item_that_the_register_has() -> None:
    assert {table.kind for table in sheet_tables().values()} <= set(kinds())
    assert sheets_for("mask") == ("mask",)
    assert set(sheets_for("lamé")) == {"wash"}


def test_rows_of_a_sheet_are_told_apart() -> None:
    for name in sheet_tables():
        for weapon in WEAPONS:
            keys = [field.key for field in sheet_named(name, weapon).fields]
            assert len(keys) == len(set(keys)) > 0


def test_a_sheet_that_there_is_not_is_refused_with_those_there_are() -> None:
    with pytest.raises(UnknownNameError, match="reel"):
        sheet_named("rele", None)


@pytest.mark.parametrize(
    ("outcomes", "whole", "comes_to"),
    [
        (["pass", "noted"], True, "pass"),
        (["pass"], False, "not all of it"),
        (["pass", "fail", "too close to call"], True, "fail"),
        (["pass", "too close to call"], True, "too close to call"),
    ],
)
def test_one_bad_row_fails_a_sheet_and_only_a_whole_one_passes(outcomes: list[str], *, whole: bool, comes_to: str) -> None:
    assert outcome_of(outcomes, whole=whole) == comes_to


@pytest.mark.parametrize("name", ["reel", "floor-cable", "piste", "blade", "mask", "apparatus", "wash"])
def test_an_empty_sheet_prints_its_cautions_and_limits(name: str) -> None:
    document = pypdfium2.PdfDocument(empty_sheet_pdf(sheet_named(name, "sabre")))
    text = " ".join(" ".join(page.get_textpage().get_text_range() for page in document).split())
    for caution in sheet_tables()[name].cautions:
        assert caution.split(":")[0].replace("’", "’")[:30] in text
    assert "FIE" in text or "m." in text


# --- filled in ----------------------------------------------------------------------------------------------------------------


def test_a_reel_is_measured_at_rest_and_drawn_and_one_line_over_3_ohms_fails_it(client: TestClient) -> None:
    """FIE Material Rules, August 2026, m.55.1: just under passes, well over fails; on the limit plain limits pass it."""
    fields = {f"row.rest.{line}": "2.9" for line in "AB"} | {"row.rest.C": "3.0", "row.drawn.A": "3,4", "row.earth": "good"}
    answer = send(client, "/control/sheets/reel", "/control/sheets/reel", about="reel of piste 3", **fields)
    assert answer.status_code == 200, answer.text
    assert answer.url.path.startswith("/control/sheets/kept/")
    for words in ("reel of piste 3", "3.4 Ω", "≤ 3 Ω (m.55.1)", '<b class="is-failed">fail</b>', "50\u00a0% that it conforms"):
        assert words in answer.text, words
    paper = client.get(f"{answer.url.path}/sheet.pdf")
    assert "reel of piste 3" in pypdfium2.PdfDocument(paper.content)[0].get_textpage().get_text_range()
    assert "reel of piste 3" in client.get("/control/sheets").text


def test_a_mask_that_failed_is_in_the_log_and_nobody_is_told_to_use_or_mend_it(client: TestClient) -> None:
    """FIE Material Rules, August 2026, m.25.7.c and m.38.6."""
    page = "/control/sheets/mask?weapon=epee"
    answer = send(client, page, "/control/sheets/mask", about="mask 12", **{"row.front": "bad"})
    assert "protects nobody" in answer.text
    advice = re.sub(r"not (?:mended|lent|fenced with)", "", answer.text)
    for word in ("repair", "mend it", "patch", "exchange the mesh", "lent"):
        assert word not in advice, word
    log = client.get(page).text
    assert "mask 12" in log
    assert '<b class="is-failed">fail</b>' in log


def test_a_sheet_of_an_item_stands_on_the_page_of_the_item_and_is_kept_once(client: TestClient) -> None:
    new = send(client, "/register/items/new", "/register/items", what="reel|")
    found = re.search(r"<code>(\w+)</code>", new.text)
    assert found
    code = found[1]
    assert f"/control/sheets/reel?item={code}" in new.text
    page = f"/control/sheets/reel?item={code}"
    text = client.get(page).text
    given = {name: re.search(rf'name="{name}" value="([^"]*)"', text)[1] for name in ("csrf", "token")}  # type: ignore[index]
    filled = {**given, "item": code, "row.rest.A": "1.2"}
    first, again = (client.post("/control/sheets/reel", data=filled) for _ in range(2))
    assert first.url == again.url
    assert "not all of it" in first.text
    assert client.get(page).text.count("/control/sheets/kept/") == 1


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"about": "a", "row.rest.A": "much"}, "give a number such as 1.05, without its unit"),
        ({"about": "a", "row.rest.A": "-1"}, "give a number from 0"),
        ({"about": "a", "row.earth": "3"}, "good or bad"),
        ({"about": "a"}, "nothing was written"),
        ({"row.rest.A": "1"}, "does not say which one"),
        ({"about": "a", "row.nose": "1"}, "is no row of this sheet"),
        ({"item": "nosuch", "row.rest.A": "1"}, "no item"),
    ],
)
def test_what_cannot_be_is_refused_in_words(client: TestClient, fields: dict[str, str], said: str) -> None:
    answer = send(client, "/control/sheets/reel", "/control/sheets/reel", **fields)
    assert answer.status_code in (400, 404, 422)
    assert said.lower() in answer.text.lower()


def test_a_lame_is_mapped_by_touch_and_its_register_has_the_reading(client: TestClient) -> None:
    new = send(client, "/register/items/new", "/register/items", what="lamé|foil")
    found = re.search(r"<code>(\w+)</code>", new.text)
    assert found
    page = f"/control/maps/{found[1]}"
    assert page in new.text
    assert "It has not been mapped yet" in client.get(page).text
    answer = send(client, page, page, rest="0.7", **{"square.front-2-2": "9999", "square.front-3-2": "12"})
    for words in ("Patch it", "front, row 2, column 2; front, row 3, column 2", "m.28.5.b", ">open<"):
        assert words in answer.text, words
    assert "9999 Ω" in client.get(f"/register/items/{found[1]}").text
    send(client, f"/control/sheets/wash?item={found[1]}", "/control/sheets/wash", item=found[1], **{"row.washed": "good"})
    later = send(client, page, page, rest="0.6", **{"square.front-2-2": "9999"})
    assert "Over 1 wash" in later.text


def test_the_morning_is_a_page_and_a_sheet(client: TestClient) -> None:
    page = client.get("/control/morning?weapon=sabre&piste=false&pistes=4")
    assert page.status_code == 200
    for words in ("unplug the left sabre", "min for 4 pistes", "What it cannot show", "earth of the frame"):
        assert words.lower() in page.text.lower(), words
    assert client.get("/control/morning.pdf?weapon=sabre&piste=false").content.startswith(b"%PDF")
    assert client.get("/control/morning?weapon=axe").status_code == 404
