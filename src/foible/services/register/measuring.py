"""Values measured on an item in; readings for the records out, each held against the limit of the rules."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from foible.errors import InputError, UnknownNameError
from foible.records.register import NewReading
from foible.services.register.kinds import quantities_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from foible.records.register import RegisteredItem
    from foible.services.register.kinds import Quantity

__all__ = ["checked_map", "map_written", "measured", "quantity_of"]

MOST = 1e7
"""The largest value that is kept: ten megohms, or ten tonnes."""
MOST_SQUARES = 40
"""Rows, and values in a row, of a map of a lamé."""


def quantity_of(item: RegisteredItem, name: str) -> Quantity:
    """Return a quantity that is measured on an item. Raises UnknownNameError."""
    known: Mapping[str, Quantity] = {each.name: each for each in quantities_of(item.kind, item.weapon)}
    if name not in known:
        raise UnknownNameError(what=f"quantity of the {item.kind}", name=name, known=known, all_named=True)
    return known[name]


def measured(  # noqa: PLR0913 — all of it is one value
    item: RegisteredItem,
    name: str,
    value: float,
    *,
    line: str = "",
    squares: tuple[tuple[float, ...], ...] | None = None,
    token: str | None = None,
) -> NewReading:
    """Return a value measured on an item [the unit of its limit] as a reading; of a map, `value` is its worst.

    Raises UnknownNameError for a quantity or a line that there is not, and InputError for a value that cannot be.
    """
    quantity = quantity_of(item, name)
    line = line.strip().upper()
    if line not in quantity.lines and (line or quantity.lines):
        raise UnknownNameError(what="line", name=line, known=quantity.lines or ("none: leave it out",), all_named=True)
    if not math.isfinite(value) or not 0 <= value <= MOST:
        raise InputError(seen=f"a value of {value:g} {quantity.unit}", remedy=f"give a number from 0 to {MOST:g}")
    table = quantity.limit.table
    passed = quantity.limit.kept(value)
    return NewReading(name, value, table.unit, line, table.clause, passed, squares, None, token)


def map_written(text: str) -> tuple[tuple[float, ...], ...]:
    """Return a map of a lamé that somebody wrote: a row on a line, values apart by spaces [Ω]. Raises InputError."""
    rows = []
    for number, line in enumerate(text.strip().splitlines(), start=1):
        try:
            row = tuple(float(word.replace(",", ".")) for word in line.split())
        except ValueError as error:
            raise InputError(
                seen=f"row {number} of the map is “{line[:40]}”", remedy="write numbers with spaces between"
            ) from error
        rows.append(row)
    return checked_map(rows)


def checked_map(rows: Sequence[Sequence[float]]) -> tuple[tuple[float, ...], ...]:
    """Return a map of a lamé without its empty rows [Ω]. Raises InputError for one that cannot be."""
    for number, row in enumerate(rows, start=1):
        if any(not math.isfinite(value) or not 0 <= value <= MOST for value in row):
            raise InputError(
                seen=f"row {number} of the map has a value that cannot be", remedy=f"give numbers from 0 to {MOST:g}"
            )
    if len(rows) > MOST_SQUARES or any(len(row) > MOST_SQUARES for row in rows):
        raise InputError(seen="the map is too fine", remedy=f"give at most {MOST_SQUARES} rows of {MOST_SQUARES} values")
    return tuple(tuple(row) for row in rows if row)
