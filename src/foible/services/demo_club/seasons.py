"""The club's last three seasons: evenings at the bench, what was found and done, parts used and bought, readings, loans.

What fails follows the kit's own rates, but for what the club has of its own: plugs of one make come loose three times as often
as usual, some items keep coming back, and the loops of old foils creep. So there is something to be learned and to be seen.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from typing import TYPE_CHECKING, Any

from foible.services.register.kinds import failures_of, setup_for

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from random import Random

    from foible.kit import Failure, Setup
    from foible.services.demo_club.club import Club, Thing

__all__ = ["Seasons"]

EVENINGS = (1, 3)
"""Club evenings: Tuesday and Thursday, as `date.weekday` counts."""
CLOSED = (7, 8)
"""Months without."""
YEARS = 3
SOUND = 0.15
"""Share of jobs in which nothing is found."""
WORN_MAKE, WORN_TIMES = "Tern", 3.0
"""The make of plug that fails so many times as often."""
TO_RETIRE = 0.03
"""Share of jobs after which an item is given up."""
COMPLAINTS = {
    "weapon": (
        "it went white and I never hit anything",
        "no lamp when I hit",
        "it lights now and then by itself",
        "failed control",
    ),
    "cord": ("white lamp when I move", "dead on one side", "crackles at the plug", "comes and goes"),
    "lamé": ("hits on the flank come up white", "failed control: dead spot", "no colour at the shoulder"),
}
ANY_COMPLAINT = ("does not work", "failed at the last competition", "looked over before the season")


class Seasons:
    """Three seasons until today, as rows that an import reads."""

    def __init__(self, club: Club, rng: Random, today: date) -> None:
        self._club, self._rng, self._today = club, rng, today
        self.jobs: list[dict[str, Any]] = []
        self.lines: list[dict[str, Any]] = []
        self.readings: list[dict[str, Any]] = []
        self.loans: list[dict[str, Any]] = []
        self.parts: list[dict[str, Any]] = []
        self.moves: list[dict[str, Any]] = []
        self._stock: dict[str, int] = {}
        self._meter = next(row["code"] for row in club.instruments if row["kind"] == "meter")

    def pass_by(self) -> None:
        """Let all evenings pass, the last of them today's."""
        self._fill_bins()
        evenings = [day for day in self._days() if day.weekday() in EVENINGS and day.month not in CLOSED]
        per_year = len(evenings) / YEARS
        for day in evenings:
            if day.month in (9, 10) and day.day <= 7:  # noqa: PLR2004 — the first week of a season, and of its second month
                self._measure_all(day)
            for thing in self._club.things:
                there = thing.bought < day and thing.retired is None
                if there and self._rng.random() < thing.frailty * thing.table.jobs_a_year / per_year:
                    self._job(thing, day)
            self._order(day)
        self._tonight()
        self._lend()

    def _days(self) -> Iterator[date]:
        day = self._today - timedelta(days=365 * YEARS)
        while day < self._today:
            yield day
            day += timedelta(days=1)

    # --- one job ------------------------------------------------------------------------------------------------------

    def _job(self, thing: Thing, day: date, state: str = "handed back") -> dict[str, Any]:
        rng, code = self._rng, thing.row["code"]
        began = datetime.combine(day, time(18, rng.randrange(60)), UTC)
        row: dict[str, Any] = {
            "job": str(len(self.jobs) + 1),
            "item": code,
            "kind": "mend",
            "opened": began.isoformat(),
            "state": state,
        }
        row["complaint"] = rng.choice(COMPLAINTS.get(thing.table.kind, ANY_COMPLAINT))
        row["promised"] = (day + timedelta(days=rng.choice((2, 5, 7, 14)))).isoformat()
        self.jobs.append(row)
        if state in ("waiting", "in hand"):
            return row
        done = min(began + timedelta(days=rng.choice((0, 0, 2, 5, 7)), minutes=rng.randrange(15, 90)), self._now)
        row |= {"done": done.isoformat(), "by": rng.choice(self._club.file.armourers)}
        if rng.random() < SOUND:
            row |= {"sound": True, "minutes": rng.randrange(3, 15)}
            self._line(row, "note", "", "tried from end to end and moved about: nothing found", done)
            return row
        self._mend(row, thing, done)
        return row

    @property
    def _now(self) -> datetime:
        return datetime.combine(self._today, time(17), UTC)

    def _mend(self, row: dict[str, Any], thing: Thing, done: datetime) -> None:
        rng, setup = self._rng, _setup(thing.table.weapon)
        found, failure = self._failure(thing)
        self._line(row, "found", found, "", done)
        row["sound"] = False
        repair = setup.repairs[failure.repair] if failure.repair else None
        row["minutes"] = round((repair.minutes if repair else 15) * rng.lognormvariate(0, 0.3), 1)
        if failure.out_of_use or rng.random() < TO_RETIRE:
            row["state"] = "given up"
            thing.retired = done.date()
            thing.row |= {"retired": done.date().isoformat(), "state": "retired"}
            self._line(row, "note", "", "not worth mending again", done)
            return
        if repair:
            self._line(row, "repair", repair.name, "", done)
            self._use_part(row, repair.name, done)
        self._line(row, "proof", "", "the trial that failed first, ten times, moved about: sound", done)

    def _failure(self, thing: Thing) -> tuple[str, Failure]:
        known = _failures(thing.table.kind, thing.table.weapon, thing.row.get("fitted", {}).get("socket", ""))
        worn = thing.row["made by"].get("plug") == WORN_MAKE
        rates = [each.rate * (WORN_TIMES if worn and " plug" in name else 1) for name, each in known]
        return self._rng.choices(known, rates)[0]

    def _line(self, job: Mapping[str, Any], kind: str, ref: str, text: str, at: datetime, **more: object) -> None:
        row = {"job": job["job"], "kind": kind, "ref": ref, "text": text, "at": at.isoformat(), "by": job["by"]}
        self.lines.append(row | more)

    # --- stock --------------------------------------------------------------------------------------------------------

    def _fill_bins(self) -> None:
        day = datetime.combine(self._today - timedelta(days=365 * YEARS + 3), time(18), UTC)
        for each in self._club.file.stock:
            code = self._club.code("s", self._rng)
            row = {
                "code": code,
                "name": each.name,
                "fits": list(each.fits),
                "bin": each.bin,
                "least": each.least,
                "price": each.price,
            }
            self.parts.append(row | {"supplier": "Brightwell Fencing Stores"})
            self._move(code, each.least + self._rng.randrange(each.least), "in", day)

    def _use_part(self, job: Mapping[str, Any], repair: str, at: datetime) -> None:
        for each, row in zip(self._club.file.stock, self.parts, strict=True):
            if repair.startswith(each.uses):
                count = 1 if each.price > 1 else self._rng.choice((1, 2))
                if self._stock[row["code"]] < count:
                    self._move(row["code"], each.least, "in", at)
                self._line(job, "part", row["code"], "", at, count=count, cost=round(each.price * count, 2))
                self._move(row["code"], -count, "used", at)

    def _order(self, day: date) -> None:
        """Buy what runs short, at the beginning of a season and in the new year."""
        if day.month not in (9, 1) or day.day > 7 or (self._today - day).days < 60:  # noqa: PLR2004 — the first week; not just now
            return
        for each, row in zip(self._club.file.stock, self.parts, strict=True):
            if self._stock[row["code"]] < each.least:
                self._move(row["code"], each.least, "in", datetime.combine(day, time(20), UTC))

    def _move(self, code: str, change: int, why: str, at: datetime) -> None:
        self._stock[code] = self._stock.get(code, 0) + change
        self.moves.append({"part": code, "change": change, "why": why, "at": at.isoformat()})

    # --- readings, loans, tonight -------------------------------------------------------------------------------------

    def _measure_all(self, day: date) -> None:
        for thing in self._club.things:
            measured = thing.table.measured
            if measured is None or thing.retired or thing.bought >= day or thing.row["owner"]:
                continue
            months = (day - thing.bought).days / 30
            value = round(measured.new + measured.growth * thing.frailty * months + self._rng.gauss(0, 0.05), 2)
            at = datetime.combine(day, time(18), UTC).isoformat()
            row = {"item": thing.row["code"], "quantity": measured.quantity, "value": max(value, 0.2), "unit": "Ω", "at": at}
            self.readings.append(row | {"passed": value <= measured.limit, "instrument": self._meter})

    def _tonight(self) -> None:
        """Put what waits for this evening into the queue: eight foils and six cords, some of them taken in hand or done."""
        states = ("done", "in hand", *("waiting",) * 20)
        for table in self._club.file.kit:
            fit = [each for each in self._club.things if each.table is table and each.retired is None]
            for number, thing in enumerate(self._rng.sample(fit, table.waiting)):
                day = self._today - timedelta(days=self._rng.randrange(1, 5))
                row = self._job(thing, day, states[number] if table.waiting > 1 else "waiting")
                row["promised"] = (self._today + timedelta(days=self._rng.choice((-1, 0, 0, 1, 2, 5)))).isoformat()
                if thing.retired is None:
                    thing.row["state"] = "at the bench"

    def _lend(self) -> None:
        rng = self._rng
        able = [each for each in self._club.things if each.row["state"] == "in use" and each.row["owner"] is None]
        for number, thing in enumerate(rng.sample(able, 14)):
            to = rng.choice((*self._club.file.fencers, *(name for name, _ in self._club.file.guests)))
            days = rng.randrange(2, 20) if number < 4 else rng.randrange(30, 400)  # noqa: PLR2004 — four are still away
            out = max(self._now - timedelta(days=days), datetime.combine(thing.bought, time(18), UTC))
            row = {"item": thing.row["code"], "to": to, "out": out.isoformat()}
            row["until"] = (out.date() + timedelta(days=14)).isoformat()
            if number < 4:  # noqa: PLR2004 — as above
                thing.row["state"] = "lent"
            else:
                row |= {
                    "back": (out + timedelta(days=rng.randrange(5, 21))).isoformat(),
                    "back state": rng.choice(("as it went", "point dirty", "tape worn")),
                }
            self.loans.append(row)


@cache
def _setup(weapon: str | None) -> Setup:
    return setup_for(weapon, {})


@cache
def _failures(kind: str, weapon: str | None, socket: str) -> tuple[tuple[str, Failure], ...]:
    """Return the failures that an item of a kind can have, by their names without a side."""
    known = failures_of(kind, weapon, {"socket": socket} if socket else {})
    return tuple((name, each) for name, each in known.items() if each.rate > 0)
