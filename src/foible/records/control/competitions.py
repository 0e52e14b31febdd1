"""Competitions with their instruments and stations. Functions of one transaction, which the trail tells of."""

from __future__ import annotations

from dataclasses import asdict, fields
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from foible.errors import InputError, NotFoundError
from foible.records.control.handed import hold
from foible.records.control.values import Competition, Instrument, Station, StationDoes
from foible.records.control_tables import CompetitionRow, InstrumentRow, StationRow
from foible.records.register.turn import change_row, made_by_token

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sqlalchemy.orm import Session

    from foible.records.control.values import NewCompetition, NewInstrument
    from foible.records.register.turn import Turn

__all__ = [
    "add_competition", "add_instrument", "change_competition", "change_instrument", "close_station", "competition_by_id",
    "competitions", "instruments_of", "open_station", "station_by_id", "stations_of",
]  # fmt: skip

MOST_STATIONS = 60
NEAR = 12
"""Competitions that a wrong number is answered with."""


def competitions(session: Session, *, limit: int = 100) -> tuple[Competition, ...]:
    """Return the competitions, the latest day first."""
    chosen = select(CompetitionRow).order_by(CompetitionRow.day.desc(), CompetitionRow.id.desc()).limit(limit)
    return tuple(map(_competition, session.scalars(chosen)))


def competition_by_id(session: Session, number: int) -> Competition:
    """Return a competition. Raises NotFoundError."""
    return _competition(_competition_row(session, number))


def add_competition(turn: Turn, new: NewCompetition) -> Competition:
    """Open a competition; a token that has opened one before opens no second. Raises InputError without a name."""
    known = made_by_token(turn, CompetitionRow, new.token)
    if known:
        return _competition(known)
    name = " ".join(new.name.split())
    if not name:
        raise InputError(seen="the competition has no name", remedy="give it one, such as Autumn Open")
    row = CompetitionRow(**asdict(new) | {"name": name}, state="open", version=1, opened=turn.at, changed=turn.at)
    turn.session.add(row)
    turn.session.flush()
    turn.note("contest", row.id, "made", {key: [None, value] for key, value in asdict(new).items() if key != "token"})
    return _competition(row)


def change_competition(turn: Turn, number: int, wanted: Mapping[str, Any], *, version: int | None) -> Competition:
    """Change fields of a competition. Raises NotFoundError and ClashError."""
    row = _competition_row(turn.session, number, lock=True)
    changed = change_row(turn, row, wanted, version=version, what=f"competition {number}")
    if changed:
        turn.note("contest", row.id, "changed", changed)
    return _competition(row)


def instruments_of(session: Session, competition: int) -> tuple[Instrument, ...]:
    """Return the instruments at a competition's table."""
    chosen = select(InstrumentRow).where(InstrumentRow.competition_id == competition).order_by(InstrumentRow.id)
    return tuple(map(_instrument, session.scalars(chosen)))


def add_instrument(turn: Turn, competition: int, new: NewInstrument) -> Instrument:
    """Add an instrument to a competition's table; a known token adds no second one. Raises NotFoundError."""
    known = made_by_token(turn, InstrumentRow, new.token)
    if known:
        return _instrument(known)
    _competition_row(turn.session, competition)
    _check_uncertainty(new.u)
    given = {each.name: getattr(new, each.name) for each in fields(new)} | {"made_up_of": dict(new.made_up_of)}
    row = InstrumentRow(**given, competition_id=competition, version=1, changed=turn.at)
    turn.session.add(row)
    turn.session.flush()
    turn.note("contest", competition, "added", {"instrument": row.id, "name": new.name, "u": new.u})
    return _instrument(row)


def change_instrument(turn: Turn, number: int, wanted: Mapping[str, Any], *, version: int | None) -> Instrument:
    """Change an instrument: entries kept before keep the uncertainty they had. Raises NotFoundError and ClashError."""
    row = turn.session.get(InstrumentRow, number, with_for_update=True)
    if row is None:
        raise NotFoundError(what="instrument", name=str(number), known=())
    if "u" in wanted:
        _check_uncertainty(wanted["u"])
    changed = change_row(turn, row, wanted, version=version, what=f"the instrument {row.name}")
    if changed:
        turn.note("contest", row.competition_id, "changed", {"instrument": row.id} | changed)
    return _instrument(row)


def stations_of(session: Session, competition: int, *, open_only: bool = False) -> tuple[Station, ...]:
    """Return the stations of a competition, in the order in which they opened."""
    chosen = select(StationRow).where(StationRow.competition_id == competition).order_by(StationRow.id)
    if open_only:
        chosen = chosen.where(StationRow.closed.is_(None))
    return tuple(map(_station, session.scalars(chosen)))


def station_by_id(session: Session, number: int) -> Station | None:
    """Return a station; None where there is no such one."""
    row = session.get(StationRow, number)
    return None if row is None else _station(row)


def open_station(turn: Turn, competition: int, does: StationDoes, *, team: int = 1, token: str | None = None) -> Station:
    """Open a station; what a team does already is open once. Raises NotFoundError, and InputError for too many."""
    known = made_by_token(turn, StationRow, token)
    if known:
        return _station(known)
    _competition_row(turn.session, competition, lock=True)
    there = stations_of(turn.session, competition)
    same = next((each for each in there if each.closed is None and (each.does, each.team) == (does, team)), None)
    if same:
        return same
    if len(there) >= MOST_STATIONS:
        raise InputError(seen=f"the competition has had {len(there)} stations", remedy="use one of those that are open")
    row = StationRow(competition_id=competition, does=does.value, team=team, opened=turn.at, closed=None, token=token)
    turn.session.add(row)
    turn.session.flush()
    turn.note("contest", competition, "added", {"station": row.id, "does": does.value, "team": team})
    return _station(row)


def close_station(turn: Turn, number: int) -> Station:
    """Close a station; one that is closed stays so. Raises NotFoundError."""
    row = turn.session.get(StationRow, number)
    if row is None:
        raise NotFoundError(what="station", name=str(number), known=())
    if row.closed is None:
        row.closed = turn.at
        turn.note("contest", row.competition_id, "changed", {"station": row.id, "closed": [None, turn.at]})
    return _station(row)


def _check_uncertainty(u: float) -> None:
    if not 0 < u < float("inf"):
        raise InputError(seen=f"the uncertainty is {u:g}", remedy="give a figure above 0: no instrument is without any")


def _competition_row(session: Session, number: int, *, lock: bool = False) -> CompetitionRow:
    row = session.get(CompetitionRow, number, with_for_update=lock or None)
    if row is None:
        known = session.scalars(select(CompetitionRow.id).order_by(CompetitionRow.id.desc()).limit(NEAR))
        raise NotFoundError(what="competition", name=str(number), known=[str(each) for each in known])
    hold(session, row)
    return row


def _competition(row: CompetitionRow) -> Competition:
    return Competition(**{each.name: getattr(row, each.name) for each in fields(Competition)})


def _instrument(row: InstrumentRow) -> Instrument:
    return Instrument(**{each.name: getattr(row, each.name) for each in fields(Instrument)})


def _station(row: StationRow) -> Station:
    given = {each.name: getattr(row, each.name) for each in fields(Station)}
    return Station(**given | {"does": StationDoes(row.does)})
