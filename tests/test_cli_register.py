"""The register in the terminal: from a spreadsheet to labels, from a complaint to a receipt."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from foible.cli.main import command
from foible.errors import FoibleError
from paper import scanned

REGISTER = Path(__file__).parent / "data" / "register.json"


class Terminal:
    """A terminal over one database."""

    def __init__(self, folder: Path) -> None:
        self._data = str(folder / "records.db")

    def __call__(self, *words: str | Path) -> str:
        """Return what a command prints, in one line."""
        done = CliRunner().invoke(command, [*map(str, words), "--data", self._data], env={"COLUMNS": "200"})
        if isinstance(done.exception, FoibleError):
            raise done.exception
        assert done.exit_code == 0, done.output
        return " ".join(done.output.split())


@pytest.fixture(scope="module")
def terminal(tmp_path_factory: pytest.TempPathFactory) -> Terminal:
    made = Terminal(tmp_path_factory.mktemp("register"))
    assert made("items", "import", REGISTER, "--try").startswith("It would add: people 3, items 2")
    assert made("items", "list") == "No item here."
    assert made("items", "import", REGISTER).startswith("Imported: people 3, items 2")
    return made


def test_items_are_found_shown_and_registered(terminal: Terminal) -> None:
    assert "wfk3m · foil · practice foil 3 · lent" in terminal("items", "list", "barrel", "bayonet")
    shown = terminal("items", "show", "WFK3M")
    for said in ("socket: bayonet", "1.25 Ω · passed", "job 1", "weapon barrel thread: loose or cracked"):
        assert said in shown
    assert terminal("items", "add", "body cord", "--weapon", "épée", "--code", "c-9") == "Registered as c9."
    with pytest.raises(FoibleError, match="wheel"):
        terminal("items", "add", "wheel")
    with pytest.raises(FoibleError, match="is taken"):
        terminal("items", "add", "foil", "--code", "c9")


def test_an_item_is_changed_measured_lent_and_taken_back(terminal: Terminal) -> None:
    code = terminal("items", "add", "body cord", "--weapon", "foil", "--name", "blue").split()[-1].rstrip(".")
    assert terminal("items", "change", code, "--name", "blue tape", "--price", "24,50") == f"{code} · blue tape · in use"
    with pytest.raises(FoibleError, match="there is no state called “broken”"):
        terminal("items", "change", code, "--state", "broken")
    with pytest.raises(FoibleError, match="there is no quantity of the cord called “length”"):
        terminal("items", "measure", code, "length", "2")
    measured = terminal("items", "measure", code, "one wire of a body cord", "0.4", "--line", "b")
    assert measured.startswith("0.4 Ω · within the limit · m.")
    number = terminal("people", "add", "Wren Millrace").split()[1]
    assert terminal("items", "lend", code, number, "--until", "2026-12-05").endswith("lent")
    with pytest.raises(FoibleError, match="is lent"):
        terminal("items", "lend", code, number)
    assert terminal("items", "back", code, "clip", "bent", "--failed").endswith("failed")


def test_a_job_goes_from_the_complaint_to_its_receipt(terminal: Terminal, tmp_path: Path) -> None:
    assert "on g2" in terminal("jobs", "add", "g2", "worn", "at", "the", "edge", "--kind", "check", "--promised", "2026-12-01")
    assert "worn at the edge · waiting · 2026-12-01" in terminal("jobs", "list")
    said = ("--sound", "--part", "2 s1", "--minutes", "4", "--note", "edge filed", "--handed-back")
    with pytest.raises(FoibleError, match="no value"):
        terminal("jobs", "done", "3", *said, "--measured", "thickness")
    with pytest.raises(FoibleError, match="there is no quantity"):
        terminal("jobs", "done", "3", *said, "--measured", "wheel=3")
    assert terminal("jobs", "done", "3", *said) == "Job 3 is handed back."
    shown = terminal("jobs", "show", "3")
    assert "edge filed" in shown
    assert "2 ×" not in terminal("jobs", "undo", "3", "1")
    assert terminal("jobs", "next", "--kind", "piste") == "No job waits."
    assert "2 × foil pressure spring" in shown
    assert "nothing was found" in shown
    terminal("jobs", "receipt", "3", "--out", tmp_path / "receipt.pdf")
    assert scanned((tmp_path / "receipt.pdf").read_bytes())[0][0].text == "g2"


def test_stock_is_registered_counted_and_ordered(terminal: Terminal, tmp_path: Path) -> None:
    assert terminal("parts", "add", "plug pin", "--count", "40", "--least", "30", "--price", "0,80").startswith("Registered as s")
    assert terminal("parts", "count", "s1", "2") == "s1: 2 × foil pressure spring."
    assert terminal("parts", "in", "s1", "5") == "s1: 7 × foil pressure spring."
    changed = terminal("parts", "change", "s1", "--bin", "B4", "--price", "1.20")
    assert changed.startswith("s1 · foil pressure spring · B4 · 7 · at least 5 · 1.20")
    assert "+5 in" in changed
    terminal("parts", "count", "s1", "2")
    assert "3 × foil pressure spring" in terminal("parts", "order")
    assert "s1" in terminal("parts", "list", "--short")
    for name in ("order.pdf", "order.csv"):
        assert "1 part to order" in terminal("parts", "order", "--out", tmp_path / name)
    with pytest.raises(FoibleError, match="neither"):
        terminal("parts", "order", "--out", tmp_path / "order.doc")


def test_labels_are_written_and_lead_to_the_item(terminal: Terminal, tmp_path: Path) -> None:
    out = tmp_path / "labels.pdf"
    terminal("items", "labels", "wfk3m", "s1", "--out", out, "--address", "http://10.0.0.7", "--sheet", "2x7")
    assert [read.text for read in scanned(out.read_bytes())[0]] == ["http://10.0.0.7/i/wfk3m", "http://10.0.0.7/i/s1"]


def test_what_is_wrong_with_a_file_is_told_row_by_row(terminal: Terminal, tmp_path: Path) -> None:
    file = tmp_path / "kit.csv"
    file.write_text("Thing;Weapon\nwheel;foil\ncord;lance\n")
    with pytest.raises(FoibleError, match="2 problems; nothing was saved"):
        terminal("items", "import", file, "--column", "Thing=kind")
    with pytest.raises(FoibleError, match="does not say"):
        terminal("items", "import", file, "--column", "Thing")
    with pytest.raises(FoibleError, match="cannot be read"):
        terminal("items", "import", tmp_path / "none.csv")


def test_everything_is_exported_and_not_written_over_unasked(terminal: Terminal, tmp_path: Path) -> None:
    out = tmp_path / "register.json"
    assert "rows exported" in terminal("items", "export", out, "--no-contacts")
    told = json.loads(out.read_text("utf-8"))
    assert [row["code"] for row in told["items"]][:2] == ["wfk3m", "g2"]
    assert "contact" not in told["people"][0]
    with pytest.raises(FoibleError, match="already exists"):
        terminal("items", "export", out)
    assert "rows exported" in terminal("items", "export", tmp_path / "register.zip")


def test_what_the_register_teaches_and_a_season_of_it(terminal: Terminal, tmp_path: Path) -> None:
    taught = terminal("learned", "--weapon", "foil")
    assert "jobs with foil kit" in taught
    assert "weapon barrel thread: loose or cracked: " in taught
    told = json.loads(terminal("learned", "--json"))
    assert {"schema", "counts", "failures", "makes", "items"} <= told.keys()
    assert "No job has found anything in sabre kit yet" in terminal("learned", "--weapon", "sabre")
    done = json.loads(terminal("season", "--json"))["plan"]["start"]
    text = terminal("season", "--fencers", "40", "--days", "2")
    for said in (f"The season from {done}", "What failed", "To take along for 40 fencers over 2 days", "Care by the calendar"):
        assert said in text
    out = tmp_path / "season.pdf"
    assert terminal("season", "--pdf", out).endswith("season.pdf.")
    assert out.read_bytes().startswith(b"%PDF")
