"""The control table in the terminal: a competition opened, its list of fencers entered, its figures and forms written."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest
from typer.testing import CliRunner

from foible.cli.main import command
from foible.errors import FoibleError
from foible.records import Database
from foible.records.control import NewHandedIn, entrants
from foible.records.register import RegisterStore
from foible.records.trail import Who
from foible.services.control.entry import Found, Told, enter
from foible.services.control.handing import take_in

if TYPE_CHECKING:
    from pathlib import Path

LIST = "name,club,weapon\nWren Invented,Lanternfield,foil\nOsric Invented,Millrace,sabre\n"


@pytest.fixture
def data(tmp_path: Path) -> str:
    return str(tmp_path / "records.db")


def said(data: str, *words: str) -> str:
    """Return what a command prints, in one line."""
    done = CliRunner().invoke(command, ["control", *words, "--data", data], env={"COLUMNS": "200"})
    if isinstance(done.exception, FoibleError):
        raise done.exception
    assert done.exit_code == 0, done.output
    return " ".join(done.output.split())


def reject_a_cord(data: str) -> None:
    """Have a cord of the first fencer fail, as the table keeps it."""
    database = Database(f"sqlite:///{data}")
    store = RegisterStore(database, clock=lambda: datetime(2026, 10, 3, 9, tzinfo=UTC))
    (first, _) = store.read(lambda session: entrants(session, 1))
    item = store.write(lambda turn: take_in(turn, first.id, NewHandedIn("mask cord", "foil")), by=Who(), what="the test")
    told = Told({("mask-cord-wire.foil", ""): Found(2.5)}, item.version, store.clock(), "cord", rest_is_good=True)
    store.write(lambda turn: enter(turn, item.id, told), by=Who(), what="the test")
    database.dispose()


def test_a_desk_opens_a_competition_enters_its_list_and_prints(data: str, tmp_path: Path) -> None:
    assert said(data, "list") == "No competition here."
    assert said(data, "new", "Autumn Open (invented)", "--day", "2026-10-03").startswith("Competition 1 is open")
    file = tmp_path / "fencers.csv"
    file.write_text(LIST, encoding="utf-8")
    assert said(data, "import", "1", str(file), "--try") == "It would enter: 2 fencers."
    assert said(data, "import", "1", str(file)) == "Entered: 2 fencers."
    assert said(data, "import", "1", str(file)) == "Entered: 0 fencers; 2 there already."
    reject_a_cord(data)
    assert "1 failed" in said(data, "show", "1")
    assert json.loads(said(data, "show", "1", "--json"))["counts"] == {"failed": 1}
    tally = said(data, "tally", "1")
    assert "foil mask cord · 1 of 1 failed" in tally
    assert "Invented" not in tally.replace("(invented)", "")
    assert json.loads(said(data, "tally", "--json"))["failed"] == 1
    form = tmp_path / "form.pdf"
    assert "foil mask cord of fencer 1" in said(data, "form", "1", "1", "--out", str(form))
    assert form.read_bytes().startswith(b"%PDF")
    figures = tmp_path / "figures.csv"
    said(data, "tally", "1", "--out", str(figures))
    assert "m.27.3" in figures.read_text("utf-8-sig")


def test_what_cannot_be_is_refused_with_what_to_do(data: str, tmp_path: Path) -> None:
    with pytest.raises(FoibleError, match="“nosuch”"):
        said(data, "new", "Open", "--edition", "nosuch")
    with pytest.raises(FoibleError, match="is no day"):
        said(data, "new", "Open", "--day", "Saturday")
    with pytest.raises(FoibleError, match="competition"):
        said(data, "show", "9")
    said(data, "new", "Open")
    wrong = tmp_path / "wrong.csv"
    wrong.write_text("name,weapon\nWren,lance\n", encoding="utf-8")
    with pytest.raises(FoibleError, match="1 problem; nobody was entered"):
        said(data, "import", "1", str(wrong))
    with pytest.raises(FoibleError, match=r"neither a \.csv nor a \.pdf"):
        said(data, "tally", "1", "--out", str(tmp_path / "figures.doc"))
