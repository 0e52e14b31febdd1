"""What a cell may hold: text from a spreadsheet, or a value from JSON, in; a date, an amount, a count … out; and back.

Each kind reads what people write and writes what it reads: a cell that was written is read as the same value again.
"""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from foible.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["KINDS", "CellKind", "amount_words"]

YES, NO = ("yes", "y", "true", "1", "x"), ("no", "n", "false", "0")
DATES = (
    (re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})"), (0, 1, 2)),
    (re.compile(r"(\d{1,2})[./](\d{1,2})[./](\d{4})"), (2, 1, 0)),
)
"""How dates are written: by ISO 8601, or day first; with where year, month and day stand."""
NOON = time(12, tzinfo=UTC)
"""When something happened of which only the day is known."""
AMOUNT = re.compile(r"(\d+|\d{1,3}(?:[.,' ]\d{3})+)(?:[.,](\d{1,2}))?")
"""An amount: whole ones, in groups of three or not, and hundredths."""
CURRENCY = re.compile(r"^[^\d.,+-]*|[^\d.,]*$")
"""What may stand around it: a currency's sign or letters."""
MOST_HUNDREDTHS = 2_000_000_000
"""The largest amount, in hundredths of the currency: what a database's integer holds."""
MOST_COUNT = 2_000_000_000
PLAIN = re.compile(r"[^;:={}\[\]\s](?:[^;:={}\[\]]*[^;:={}\[\]\s])?")
"""A name that needs no quotes in a list in one cell."""


@dataclass(frozen=True)
class CellKind:
    """One kind of cell."""

    name: str
    about: str
    """What may stand in it, in words."""
    read: Callable[[object], Any]
    """The value of a cell that is not empty. Raises InputError."""
    write: Callable[[Any], str] = str
    """The text of a value."""
    tell: Callable[[Any], object] = str
    """The value as JSON has it."""


def amount_words(hundredths: int) -> str:
    """Return an amount as it is written, such as “12.50”."""
    return f"{hundredths // 100}.{hundredths % 100:02d}"


def _text(given: object) -> str:
    if isinstance(given, bool | dict | list):
        raise InputError(seen=f"{_shown(given)} is not a text", remedy="write it in quotes")
    text = f"{given:g}" if isinstance(given, float) else str(given)
    return text.strip()


def _yes(given: object) -> bool:
    word = str(given).strip().casefold()
    if word in YES or word in NO:
        return word in YES
    raise InputError(seen=f"{_shown(given)} is neither yes nor no", remedy="write yes or no")


def _date(given: object) -> date:
    text = str(given).strip()
    for pattern, order in DATES:
        found = pattern.fullmatch(text)
        if found:
            year, month, day = (int(found[place + 1]) for place in order)
            try:
                return date(year, month, day)
            except ValueError:
                break
    raise InputError(seen=f"{_shown(given)} is no date", remedy="write it as 2026-03-28, or as 28.3.2026")


def _moment(given: object) -> datetime:
    text = str(given).strip()
    try:
        when = datetime.fromisoformat(text) if ":" in text else datetime.combine(_date(text), NOON)
    except ValueError as error:
        raise InputError(seen=f"{_shown(given)} is no date and time", remedy="write it as 2026-03-28T19:30Z") from error
    return (when if when.tzinfo else when.replace(tzinfo=UTC)).astimezone(UTC)


def _amount(given: object) -> int:
    """Return an amount in hundredths; a comma or a point parts off one or two digits, and may stand between thousands."""
    found = AMOUNT.fullmatch(CURRENCY.sub("", str(given).strip()))
    if isinstance(given, float) and math.isfinite(given):
        hundredths = Decimal(str(given)) * 100
    elif found:
        hundredths = Decimal(re.sub(r"\D", "", found[1]) + (found[2] or "").ljust(2, "0"))
    else:
        hundredths = Decimal(-1)
    if not 0 <= hundredths <= MOST_HUNDREDTHS or hundredths != hundredths.to_integral_value():
        raise InputError(seen=f"{_shown(given)} is no amount of money", remedy="write it as 12.50")
    return int(hundredths)


def _count(given: object) -> int:
    value = _number(given)
    if value < 0 or value != int(value) or value > MOST_COUNT:
        raise InputError(seen=f"{_shown(given)} is no count", remedy="write a whole number, 0 or more")
    return int(value)


def _number(given: object) -> float:
    text = str(given).strip().replace(",", ".")
    try:
        value = float(text) if not isinstance(given, bool) else math.nan
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputError(seen=f"{_shown(given)} is no number", remedy="write digits, without a unit")
    return value


def _pairs(given: object) -> dict[str, str]:
    """Return names and values: “socket: bayonet; point: …”, or an object of JSON."""
    value = _parsed(given, "{")
    if isinstance(value, dict):
        found = {str(key).strip(): word for key, word in value.items()}
    else:
        parts = [re.split(r"[:=]", part, maxsplit=1) for part in str(value).split(";") if part.strip()]
        found = {part[0].strip(): part[1].strip() if len(part) > 1 else None for part in parts}
    if not all(key and isinstance(word, str) and word for key, word in found.items()):
        raise InputError(seen=f"{_shown(given)} does not say what is what", remedy="write “socket: bayonet; point: …”")
    return {key: str(word) for key, word in found.items()}


def _words(given: object) -> list[str]:
    """Return names: “a; b”, or a list of JSON."""
    value = _parsed(given, "[")
    found = value if isinstance(value, list) else [part.strip() for part in str(value).split(";")]
    if not all(isinstance(word, str) for word in found):
        raise InputError(seen=f"{_shown(given)} is no list of names", remedy="write “one name; another name”")
    return [word for word in found if word]


def _data(given: object) -> object:
    return _parsed(given, "{[")


def _parsed(given: object, opening: str) -> object:
    """Return a value of JSON, from a text where it begins like one."""
    if not isinstance(given, str) or not given.lstrip().startswith(tuple(opening)):
        return given
    try:
        return json.loads(given)
    except (ValueError, RecursionError) as error:
        raise InputError(seen=f"{_shown(given)} is no JSON", remedy="close its brackets and quotes") from error


def _pairs_text(value: dict[str, str]) -> str:
    if all(PLAIN.fullmatch(word) for pair in value.items() for word in pair):
        return "; ".join(f"{key}: {word}" for key, word in value.items())
    return _json(value)


def _words_text(value: list[str]) -> str:
    return "; ".join(value) if all(PLAIN.fullmatch(word) for word in value) else _json(value)


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False)


def _as_is(value: object) -> object:
    return value


def _shown(given: object) -> str:
    text = given if isinstance(given, str) else _json(given)
    return f"“{text.strip()[:60]}”"


KINDS = {
    kind.name: kind
    for kind in (
        CellKind("text", "text", _text),
        CellKind("date", "a date such as 2026-03-28 or 28.3.2026", _date, date.isoformat, date.isoformat),
        CellKind(
            "moment", "a date, with its time where known: 2026-03-28T19:30Z", _moment, datetime.isoformat, datetime.isoformat
        ),
        CellKind("amount", "an amount of money such as 12.50", _amount, amount_words, lambda value: value / 100),
        CellKind("count", "a whole number", _count, str, _as_is),
        CellKind("number", "a number", _number, repr, _as_is),
        CellKind("yes", "yes or no", _yes, lambda value: "yes" if value else "no", _as_is),
        CellKind("pairs", "names and values such as “socket: bayonet”, parted by semicolons", _pairs, _pairs_text, _as_is),
        CellKind("words", "names, parted by semicolons", _words, _words_text, _as_is),
        CellKind("data", "JSON", _data, _json, _as_is),
    )
}
"""Every kind by its name, as `columns.toml` uses it."""
