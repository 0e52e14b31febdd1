"""What every page of the register needs: the register itself, who asks, and forms read into plain values."""

from __future__ import annotations

import math
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING, Annotated, Any, cast

from fastapi import Depends
from pydantic import Field
from sqlalchemy import select

from foible.errors import InputError
from foible.records import PersonRow
from foible.services.register.kinds import kinds, words_of
from foible.web.register.signed_in import person_of, who
from foible.web.security import check_form
from foible.web.shared import cases_of, render

if TYPE_CHECKING:
    from pathlib import Path

    from fastapi import Request
    from sqlalchemy.orm import Session
    from starlette.responses import HTMLResponse

    from foible.records.register import RegisterStore

__all__ = [
    "FIRST_DAY",
    "LAST_DAY",
    "Checked",
    "Code",
    "Number",
    "Said",
    "Short",
    "Token",
    "day_in",
    "id_in",
    "money_in",
    "number_in",
    "overlays_of",
    "owners",
    "register_of",
    "show",
    "version_in",
    "who",
]  # fmt: skip

Checked = Depends(check_form)
Said = Annotated[str, Field(max_length=2000)]
Short = Annotated[str, Field(max_length=200)]
Token = Annotated[str, Field(max_length=30)]
"""Shorter than a column has room for: lines of a form get numbers behind it."""
Code = Annotated[str, Field(max_length=20)]
LARGEST_ID = 2**31 - 1
Number = Annotated[int, Field(ge=1, le=LARGEST_ID)]
FIRST_DAY, LAST_DAY = date(1900, 1, 1), date(2200, 1, 1)
"""The days that a club may mean; the season's page has the same last one."""
MOST_DIGITS = 15
"""Digits of an amount before its point."""
MOST_OWNERS = 5000
SECTIONS = {
    "/register": "find",
    "/register/queue": "queue",
    "/register/items/new": "new item",
    "/register/parts": "parts",
    "/register/order-list": "order list",
    "/register/labels": "labels",
    "/register/learned": "what it teaches",
    "/register/season": "season",
    "/register/import": "in and out",
    "/register/people": "people",
    "/register/trail": "changes",
}
"""The sections of the register by their addresses, and what the links to them say."""


def register_of(request: Request) -> RegisterStore:
    """Return the register."""
    return cast("RegisterStore", request.app.state.register)


def overlays_of(request: Request) -> tuple[Path, ...]:
    """Return the folders laid over Foible's own kit."""
    return tuple(cases_of(request).reasoning.overlays)


def show(request: Request, template: str, status: int = 200, **values: Any) -> HTMLResponse:  # noqa: ANN401 — whatever the template shows
    """Return a page of the register."""
    within = {address: words for address, words in SECTIONS.items() if address in request.app.state.sections}
    known: dict[str, Any] = {"item_words": words_of, "kinds": kinds(), "money": _money, "within": within}
    known["person"] = person_of(request)
    return render(request, f"register/{template}", status, **known | values)


def owners(session: Session) -> dict[int, str]:
    """Return the names of people and clubs who are not erased, by ID."""
    chosen = select(PersonRow.id, PersonRow.name).where(PersonRow.erased.is_(None)).order_by(PersonRow.name).limit(MOST_OWNERS)
    return {row.id: row.name for row in session.execute(chosen)}


def _slip(what: str, given: str, remedy: str) -> InputError:
    """Return what is wrong with a field that cannot be read."""
    return InputError(seen=f"{what} is “{given[:40]}”", remedy=remedy)


def day_in(text: str, what: str) -> date | None:
    """Return a day as a form gives it; None for an empty field. Raises InputError."""
    try:
        day = date.fromisoformat(text.strip()) if text.strip() else None
    except ValueError as error:
        raise _slip(what, text, "write year, month and day: 2026-10-03") from error
    if day is not None and not FIRST_DAY <= day <= LAST_DAY:
        raise _slip(what, text, f"give one between {FIRST_DAY.year} and {LAST_DAY.year}")
    return day


def money_in(text: str, what: str = "the price") -> int | None:
    """Return an amount in hundredths; None for an empty field. Raises InputError."""
    if not text.strip():
        return None
    try:
        amount = Decimal(text.strip().replace(",", "."))
    except InvalidOperation as error:
        raise _slip(what, text, "write a number: 12.50") from error
    if not amount.is_finite() or amount.adjusted() > MOST_DIGITS:  # a few characters can mean a million digits
        raise _slip(what, text, "write a number: 12.50")
    cents = amount * 100
    if cents != cents.to_integral_value():
        raise _slip(what, text, "write it with at most two decimals: 12.50")
    return int(cents)


def number_in(text: str, what: str) -> float | None:
    """Return a number as a form gives it; None for an empty field. Raises InputError."""
    try:
        number = float(text.strip().replace(",", ".")) if text.strip() else None
    except ValueError as error:
        raise _slip(what, text, "write a number: 1.2") from error
    if number is not None and not math.isfinite(number):
        raise _slip(what, text, "write a number: 1.2")
    return number


def id_in(text: str, what: str) -> int | None:
    """Return whom a form has chosen, by id; None for an empty field. Raises InputError."""
    if not text.strip():
        return None
    if not text.strip().isdecimal() or not 1 <= int(text) <= LARGEST_ID:
        raise _slip(what, text, "choose from the list")
    return int(text)


def version_in(text: str) -> int | None:
    """Return the version that a form saw. Raises InputError: without it, somebody else's change could be lost."""
    if not text.strip().isdecimal() or int(text) > LARGEST_ID:
        what = "the version"
        raise _slip(what, text, "reload the page and send it again")
    return int(text)


def _money(cents: int | None) -> str:
    return "" if cents is None else f"{cents // 100}.{cents % 100:02d}"
