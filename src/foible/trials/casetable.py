"""A case as a file writes it: its keys in, the text of the file out."""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING

import tomli_w
from pydantic import Field

from foible.errors import InputError
from foible.tomlfile import Strict, Words
from foible.trials.read import TrialTable  # noqa: TC001 — pydantic reads the annotations

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = ["CaseTable", "ExpectTable", "case_text", "ended_text", "file_text", "headed_text"]


class ExpectTable(Strict):
    """The known cause of a case."""

    parts: tuple[str, ...] = ()
    note: str = ""
    unexplained: str = ""


class CaseTable(Strict):
    """A case file as it is written; docs/case-file.md explains the keys."""

    title: str = ""
    weapon: str
    piste: str = ""
    fencer: str = ""
    complaint: str = ""
    source: str = ""
    names: int | None = Field(None, ge=0)
    known_good: tuple[str, ...] = ()
    facts: Words = ()
    ending: str = ""
    ended_with: Words = ()
    profile: str | None = None
    left: dict[str, str] = Field(default_factory=dict)
    right: dict[str, str] = Field(default_factory=dict)
    expect: ExpectTable | None = None
    trial: tuple[TrialTable, ...] = Field(())


def case_text(head: Mapping[str, object], trials: Sequence[Mapping[str, object]]) -> str:
    """Return the text of a case file with `head` keys and one table per trial, in the order given; what is empty is left out."""
    blocks = [tomli_w.dumps(_filled(head)).rstrip("\n")] if _filled(head) else []
    blocks += ["\n".join(["[[trial]]", tomli_w.dumps(_single(_filled(trial)))]).rstrip("\n") for trial in trials]
    return "\n\n".join(blocks) + "\n"


def file_text(table: CaseTable) -> str:
    """Return the text of the case file that reads as `table`."""
    head = table.model_dump(exclude_defaults=True, exclude={"trial"})
    if table.expect is not None:
        head["expect"] = table.expect.model_dump(exclude_defaults=True) or {"parts": []}
    return case_text(head, [trial.model_dump(exclude_defaults=True) for trial in table.trial])


def ended_text(text: str, ending: str, things: Sequence[str]) -> str:
    """Return the text of a case file with an ending, in place of the one that Foible may have written into it before."""
    head, table, rest = re.fullmatch(r"(?s)(.*?)(^\[|\Z)(.*)", text, re.MULTILINE).groups()  # type: ignore[union-attr]
    bare = re.sub(r"(?m)^(ending|ended_with) *=.*\n", "", head)
    said = tomli_w.dumps(
        _filled({"ending": ending, "ended_with": "" if not things else things[0] if len(things) == 1 else [*things]})
    )
    return f"{said}{bare}{table}{rest}"


def headed_text(text: str, changes: Mapping[str, object]) -> str:
    """Return the text of a case file with other values at its top, the rest as it is; an empty value is left out.

    Raises InputError where the file is written in a way that only its writer can change.
    """
    head, tables = re.fullmatch(r"(?s)(.*?)((?:^\[|\Z).*)", text, re.MULTILINE).groups()  # type: ignore[union-attr]
    for key, value in changes.items():
        head = re.sub(rf"(?m)^{key} *=.*\n?", "", head)
        tables = re.sub(rf"(?m)^\[{key}\].*\n(?:(?!\[).*\n?)*", "", tables)
        if isinstance(value, dict):
            tables = tomli_w.dumps(_filled({key: value})) + "\n" * bool(value) + tables
        else:
            head = tomli_w.dumps(_filled({key: value})) + head
    made = f"{head.rstrip(chr(10))}\n\n{tables}" if tables else head
    wanted = {key: value for key, value in {**tomllib.loads(text), **changes}.items() if value or key not in changes}
    try:
        same = tomllib.loads(made) == wanted
    except tomllib.TOMLDecodeError:
        same = False
    if not same:
        remedy = "change it there by hand"
        raise InputError(seen=f"{' and '.join(changes)} cannot be changed in this file as it is written", remedy=remedy)
    return made


def _filled(table: Mapping[str, object]) -> dict[str, object]:
    return {key: value for key, value in table.items() if value}


def _single(trial: Mapping[str, object]) -> dict[str, object]:
    """Return a trial whose lists of one word are that word, as people write them."""
    return {key: value[0] if isinstance(value, list | tuple) and len(value) == 1 else value for key, value in trial.items()}
