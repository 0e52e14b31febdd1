"""The invented Lanternfield club: who is there, and the kit it keeps; all of it made up, from one seed."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from foible.records.cases import LETTERS
from foible.tomlfile import Strict, read_model

if TYPE_CHECKING:
    from random import Random

__all__ = ["Club", "Thing", "club_file", "kit_of"]

LONG_AGO = date(2018, 9, 1)
"""No item of the club is older."""
FRAILTY = 1.3
"""Shape of the Gamma distribution of how often an item fails beside others of its kind, with a mean of 1."""


class MeasuredTable(Strict):
    """What is measured before a season: of a new one, by how much it grows a month, and what the rules allow [Ω]."""

    quantity: str
    new: float
    growth: float
    limit: float


class KitTable(Strict):
    """One kind of item in the club."""

    kind: str
    weapon: str | None = None
    own: int
    fencers: int
    jobs_a_year: float
    price: float
    years: int
    """How long ago the oldest was bought."""
    made_by: tuple[str, ...]
    names: tuple[str, str]
    """What the club calls its own, and a fencer theirs."""
    bayonets: float = 0.0
    """Share of them with a bayonet socket."""
    measured: MeasuredTable | None = None
    waiting: int = 0
    """How many wait for this evening."""


class InstrumentTable(Strict):
    """A weight, a gauge or a meter."""

    kind: str
    name: str
    due_days: int
    price: float


class StockTable(Strict):
    """A part in stock."""

    name: str
    fits: tuple[str, ...]
    bin: str
    least: int
    price: float
    uses: tuple[str, ...]


class ClubFile(Strict):
    """The club."""

    club: str
    armourers: tuple[str, ...]
    fencers: tuple[str, ...]
    guests: tuple[tuple[str, str], ...]
    makes: dict[str, tuple[str, ...]]
    kit: tuple[KitTable, ...]
    instrument: tuple[InstrumentTable, ...]
    stock: tuple[StockTable, ...]


@dataclass
class Thing:
    """An item as the seasons wear it out."""

    row: dict[str, Any]
    table: KitTable
    bought: date
    frailty: float
    """How often it fails beside others of its kind."""
    retired: date | None = None


@dataclass
class Club:
    """The club before its first season, as rows that an import reads."""

    file: ClubFile
    people: list[dict[str, Any]] = field(default_factory=list)
    things: list[Thing] = field(default_factory=list)
    instruments: list[dict[str, Any]] = field(default_factory=list)
    codes: set[str] = field(default_factory=set)

    def code(self, letter: str, rng: Random) -> str:
        """Return a code that is not taken."""
        while (made := letter + "".join(rng.choices(LETTERS, k=4))) in self.codes:
            pass
        self.codes.add(made)
        return made


def club_file() -> ClubFile:
    """Return the club as its file has it."""
    return read_model(ClubFile, Path(str(files("foible.services.demo_club") / "data" / "club.toml")))


def kit_of(file: ClubFile, letters: dict[str, str], rng: Random, *, today: date) -> Club:
    """Return the club with its people and its kit; `letters` begin the codes of each kind."""
    club = Club(file)
    club.people = [{"name": name, "club": file.club} for name in (*file.armourers, *file.fencers)]
    club.people += [{"name": name, "club": of} for name, of in file.guests]
    for name in (*file.fencers, *(name for name, _ in file.guests)):
        mail = name.split()[0].lower()
        next(row for row in club.people if row["name"] == name)["contact"] = f"{mail}@lanternfield.example"
    for table in file.kit:
        for number in range(1, table.own + table.fencers + 1):
            owner = None if number <= table.own else rng.choice(file.fencers)
            club.things.append(_thing(club, table, number, owner, letters[table.kind], rng, today))
    for each in file.instrument:
        row = {"code": club.code(letters[each.kind], rng), "kind": each.kind, "name": each.name, "price": each.price}
        club.instruments.append(row | {"check due": (today + timedelta(days=each.due_days)).isoformat(), "bought": "2021-09-01"})
    return club


def _thing(  # noqa: PLR0913, PLR0917 — what an item is
    club: Club, table: KitTable, number: int, owner: str | None, letter: str, rng: Random, today: date
) -> Thing:
    bought = max(LONG_AGO, today - timedelta(days=rng.randrange(60, 365 * table.years)))
    name = f"{table.names[0]} {number}" if owner is None else f"{table.names[1]} of {owner.split()[0]}"
    row: dict[str, Any] = {
        "code": club.code(letter, rng),
        "kind": table.kind,
        "name": name,
        "owner": owner,
        "weapon": table.weapon,
    }
    row |= {"bought": bought.isoformat(), "first used": (bought + timedelta(days=rng.randrange(1, 30))).isoformat()}
    row |= {"price": round(table.price * rng.uniform(0.85, 1.2)), "state": "in use"}
    row["made by"] = {part: rng.choice(club.file.makes[part]) for part in table.made_by}
    if table.bayonets and rng.random() < table.bayonets:
        row["fitted"] = {"socket": "bayonet"}
    return Thing(row, table, bought, rng.gammavariate(FRAILTY, 1 / FRAILTY))
