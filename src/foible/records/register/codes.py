"""Codes of items and parts: a letter for the kind and four more characters, none mistaken for another when read aloud."""

from __future__ import annotations

from secrets import choice
from typing import TYPE_CHECKING

from sqlalchemy import select

from foible.errors import InputError
from foible.records.cases import LETTERS

if TYPE_CHECKING:
    from foible.records.register.turn import Turn
    from foible.records.register_tables import ItemRow, PartRow

__all__ = ["PART_LETTER", "known_as", "unused_code"]

LENGTH = 4
PART_LETTER = "s"
"""What codes of parts in stock begin with; no kind of item has this letter."""


def known_as(code: str) -> str:
    """Return a code as it is kept, however it was typed: capitals, spaces and dashes do not matter."""
    return "".join(char for char in code.casefold() if char.isalnum())


def unused_code(turn: Turn, table: type[ItemRow | PartRow], letter: str, wanted: str | None) -> str:
    """Return the code that is wanted, or a new one. Raises InputError where it is in use already or is none."""
    if wanted is None:
        while True:
            made = letter + "".join(choice(LETTERS) for _ in range(LENGTH))
            if not _used(turn, table, made):
                return made
    code = known_as(wanted)
    if not code or not code.isascii():
        raise InputError(seen=f"“{wanted}” is no code", remedy="give letters and digits, or leave it out to have one made")
    if _used(turn, table, code):
        raise InputError(seen=f"the code {code} is in use already", remedy="give another, or leave it out to have one made")
    return code


def _used(turn: Turn, table: type[ItemRow | PartRow], code: str) -> bool:
    return turn.session.scalar(select(table.id).where(table.code == code)) is not None
