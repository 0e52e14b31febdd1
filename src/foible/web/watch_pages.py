"""For whoever looks after this Foible: `/health` for a watching program, and a page of what is kept where."""

from __future__ import annotations

import threading
import time
from typing import TYPE_CHECKING, NamedTuple

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse

from foible import __version__
from foible.errors import KeepingError
from foible.services.this_foible import ENOUGH_BYTES, copied_last, kept_here, room_for
from foible.web.lanes import looks_up
from foible.web.security import is_here
from foible.web.shared import cases_of, render, settings_of

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from foible.services.cases import Cases
    from foible.services.daily import DailyCopies
    from foible.services.this_foible import Kept

__all__ = ["ROWS", "Row", "router"]

router = APIRouter(include_in_schema=False)
UNITS = ((10**9, "GB"), (10**6, "MB"), (10**3, "kB"))
FRESH_S = 2.0
"""How long an answer about the health holds, so that asking often costs nothing [s]."""


class Health:
    """How the records are, looked at once every few seconds at most."""

    def __init__(self, cases: Cases, clock: Callable[[], float] = time.monotonic) -> None:
        self._cases, self._clock = cases, clock
        self._lock = threading.Lock()
        self._known: tuple[float, str] | None = None

    def look(self) -> str:
        """Return what is wrong, in words without names and places; empty where nothing is."""
        with self._lock:
            if self._known is None or self._clock() - self._known[0] >= FRESH_S:
                self._known = self._clock(), self._looked()
            return self._known[1]

    def _looked(self) -> str:
        database = self._cases.store.database
        try:
            self._cases.store.count()
        except KeepingError:
            return "the records cannot be read"
        if database.read_only or not database.takes_changes():
            return "the records cannot be written to"
        room = room_for(self._cases)
        return "the disk is nearly full" if room is not None and room < ENOUGH_BYTES else ""


@router.get("/health")
@looks_up
def health(request: Request) -> JSONResponse:
    """Say whether answers are taken in: 200, or 503 and what is wrong; nobody has to have joined to ask."""
    state = request.app.state
    if not hasattr(state, "health"):
        state.health = Health(cases_of(request))
    wrong = state.health.look()
    return JSONResponse({"ok": not wrong, "wrong": wrong or None}, 503 if wrong else 200)


class Row(NamedTuple):
    """One line of the page."""

    name: str
    value: str
    more: str = ""
    when: datetime | None = None


@router.get("/this-foible")
@looks_up
def this_foible(request: Request) -> HTMLResponse:
    """Show version, records, size, last copy and free space; where they lie is shown on the machine itself only."""
    rows = [row for made in ROWS for row in made(request)]
    return render(request, "this_foible.html", rows=rows)


def _version(_: Request) -> list[Row]:
    return [Row("Version", __version__)]


def _records(request: Request) -> list[Row]:
    kept: Kept = kept_here(cases_of(request))
    place = kept.place if is_here(request.scope) else ""
    takes = "can only be read here" if kept.read_only else ""
    rows = [
        Row("Records", f"{kept.kind}{', ' if takes else ''}{takes}", place),
        Row("Size", f"{_mb(kept.records_bytes)}, {_counted(kept.cases, 'case')}"),
        Row("Photos", f"{_counted(kept.photos, 'photo')}, {_mb(kept.photos_bytes)}" if kept.photos else "none"),
    ]
    if kept.free_bytes is not None:
        low = "Make room: with less, answers are soon refused." if kept.free_bytes < 5 * ENOUGH_BYTES else ""
        rows.append(Row("Free space", _mb(kept.free_bytes), low))
    return rows


def _copies(request: Request) -> list[Row]:
    daily: DailyCopies | None = getattr(request.app.state, "daily", None)
    if daily is None:
        return [Row("Last copy", "none is made by itself", "Make one with foible backup, or start Foible with --copies.")]
    last = copied_last(daily)
    where = str(daily.folder) if is_here(request.scope) else ""
    if last is None:
        return [Row("Last copy", "none yet", where)]
    path, made, size = last
    return [
        Row("Last copy", f"{_counted(len(daily.there()), 'copy', 'copies')}, the last of {_mb(size)}", where and str(path), made)
    ]


def _devices(request: Request) -> list[Row]:
    settings = settings_of(request)
    if not settings.shared:
        return [Row("Other devices", "none may join")]
    count = len(settings.devices.all())
    return [Row("Other devices", f"{_counted(count, 'device')} joined" if count else "none has joined yet")]


ROWS: tuple[Callable[[Request], list[Row]], ...] = (_version, _records, _copies, _devices)
"""What the page tells, in this order; each gives its lines."""


def _counted(count: int, one: str, many: str = "") -> str:
    return f"{count:,} {one if count == 1 else many or f'{one}s'}"


def _mb(size: int) -> str:
    """Return a size in words, in units of 10³, 10⁶ or 10⁹ bytes."""
    unit, name = next((each for each in UNITS if size >= each[0]), UNITS[-1])
    return f"{size / unit:,.1f} {name}"
