"""`foible people`: the first manager is made at the terminal, and the rest of what people need there."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from typer.testing import CliRunner

from foible.cli.main import command
from foible.errors import InputError

if TYPE_CHECKING:
    from pathlib import Path


def foible(folder: Path, *words: str, types: str = "") -> str:
    """Return what `foible people …` prints; what it refuses is raised."""
    done = CliRunner().invoke(command, ["people", *words, "--data", str(folder / "records.db")], input=types)
    if isinstance(done.exception, InputError):
        raise done.exception
    assert done.exit_code == 0, done.output
    return done.output


def refused(folder: Path, *words: str, types: str = "") -> str:
    try:
        foible(folder, *words, types=types)
    except InputError as error:
        return str(error)
    return "nothing"


def test_people_at_the_terminal(tmp_path: Path) -> None:
    assert "nobody could manage" in refused(tmp_path, "add", "Ivo Lark", "--login", "ivo", "--role", "work", types="771904\n")
    added = foible(
        tmp_path, "add", "Mira Ashgrove", "--login", "Mira", "--role", "manage", "--club", "Lanternfield", types="480261\n"
    )
    assert added == "Added:    1  Mira Ashgrove, Lanternfield, signs in as mira to manage\n"
    foible(tmp_path, "add", "Ferry Lane", "--is-club")
    assert foible(tmp_path, "list", "ferry") == "   2  Ferry Lane, club\n"
    assert [each["name"] for each in json.loads(foible(tmp_path, "list", "--json"))["people"]] == ["Ferry Lane", "Mira Ashgrove"]
    assert "PIN has 3 digits" in refused(tmp_path, "change", "1", "--secret", types="123\n")
    assert "Mira Oakley" in foible(tmp_path, "change", "1", "--name", "Mira Oakley", "--secret", types="crate lantern oar\n")
    assert "Open:" in foible(tmp_path, "unlock", "1")
    assert "--for-good" in refused(tmp_path, "erase", "2")
    assert "is erased" in foible(tmp_path, "erase", "2", "--for-good")
    assert foible(tmp_path, "list", "ferry") == "Nobody is registered there.\n"
    file = tmp_path / "mira.json"
    foible(tmp_path, "export", "1", str(file))
    assert [each["did"] for each in json.loads(file.read_text())["trail"]] == ["made", "changed"]
    assert "already exists" in refused(tmp_path, "export", "1", str(file))
