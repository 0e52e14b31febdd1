"""What a register has taught, for people to read: failures, kinds, makes and items that come back more often than usual."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from foible.learning import Learned, multipliers, normalised

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date, datetime

    from foible.kit import Setup
    from foible.records.experience import Find, ItemFacts
    from foible.services.register.teacher import Teacher

__all__ = [
    "ItemHistory",
    "ItemLine",
    "LearnedPage",
    "Line",
    "among_items",
    "item_history",
    "item_lines",
    "learned_page",
    "lines_of",
    "make_lines",
    "years_used",
]

YEAR = timedelta(days=365.25)
FEWEST = 1
"""Failures found less often than this are listed only where they are clearly rarer than usual."""
MOST_ITEMS = 60
"""Items of a kind that are looked at one by one, those that come back most."""
OFTEN = 1.2
"""An item keeps coming back from this multiplier on."""
NEAR = (1 / 1.15, 1.15)
"""A multiplier between these is “about as often as usual”."""


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that was counted: how often it was found and was to be expected, and by how much it is commoner than usual."""

    name: str
    kind: str
    count: float
    expected: float
    times: float
    low: float
    high: float
    """The interval of 90 % that `times` lies in."""

    @property
    def clear(self) -> bool:
        """Whether it is commoner or rarer than usual beyond doubt: the interval does not hold 1."""
        return self.low > 1 or self.high < 1

    @property
    def words(self) -> str:
        """How often it fails, in words."""
        if NEAR[0] <= self.times <= NEAR[1]:
            return "about as often as usual"
        return f"{self.times:.2g} × as often as usual"


@dataclass(frozen=True, slots=True)
class ItemLine:
    """One item with its own history."""

    code: str
    name: str
    years: float
    line: Line


@dataclass(frozen=True, slots=True)
class ItemHistory:
    """One item: how often it comes back in all, and by failure, against others of its kind in as long."""

    whole: ItemLine
    failures: tuple[Line, ...]


@dataclass(frozen=True)
class LearnedPage:
    """What is learned about one weapon's kit."""

    weapon: str
    jobs: float
    sound: float
    """Jobs that found nothing wrong."""
    sound_times: float
    """By how much “nothing wrong” is commoner than usual."""
    failures: tuple[Line, ...]
    """Those that tell something, the clearest first."""
    kinds: tuple[Line, ...]
    alike: float
    """The probability that this is an ordinary club, whose rates are all within a quarter of the usual ones."""


def learned_page(teacher: Teacher, setup: Setup) -> LearnedPage:
    """Return what the register teaches of a weapon's kit up to this moment."""
    found, club = teacher.found(setup), teacher.club(setup)
    lines = lines_of(club.names, club.kinds, club.learned)
    telling = sorted((line for line in lines if line.count >= FEWEST or line.clear), key=_telling)
    kinds = tuple(dict.fromkeys(club.kinds))
    of = [[place for place, kind in enumerate(club.kinds) if kind == name] for name in kinds]
    counts = np.array([club.learned.count[places].sum() for places in of])
    shares = np.array([club.share[places].sum() for places in of])
    by_kind = lines_of(kinds, kinds, normalised(counts, shares)) if kinds else []
    alike = sum(chance for spread, chance in club.learned.spreads.items() if spread >= 30)  # noqa: PLR2004 — as `alike` says
    return LearnedPage(
        setup.weapon, found.jobs, found.sound, club.sound, tuple(telling), tuple(sorted(by_kind, key=_telling)), alike
    )


def among_items(teacher: Teacher, page: LearnedPage, most: int) -> tuple[list[Line], list[ItemLine]]:
    """Return the makes of a weapon's kit, and at most so many of its items that keep coming back, the surest first."""
    store, now = teacher.store, teacher.clock()
    by_kind = [(store.items(line.name, page.weapon), store.finds(line.name, page.weapon)) for line in page.kinds]
    makes = [line for items, finds in by_kind for line in make_lines(items, finds, now)]
    back = [line for items, finds in by_kind for line in item_lines(items, finds, now)]
    back = [line for line in back if line.line.count > 1 and line.line.times > OFTEN]
    return makes, sorted(back, key=lambda line: -line.line.low)[:most]


def make_lines(items: Sequence[ItemFacts], finds: Sequence[Find], now: datetime) -> list[Line]:
    """Return how often items with parts of each make come back, against what such items do here; a make in a slot is one line."""
    years = {item.id: years_used(item, now) for item in items}
    found = _by_item(finds)
    total = sum(years.values())
    rate = len(finds) / total if total > 0 else 0.0
    makes: dict[tuple[str, str], list[ItemFacts]] = {}
    for item in items:
        for slot, make in item.made_by.items():
            makes.setdefault((slot, make), []).append(item)
    if not makes or rate == 0:
        return []
    counts = np.array([float(sum(found.get(item.id, 0) for item in own)) for own in makes.values()])
    expected = np.array([max(rate * sum(years[item.id] for item in own), 1e-3) for own in makes.values()])
    names = [f"{make} ({items[0].kind}, {slot})" for slot, make in makes]
    return sorted(lines_of(names, [items[0].kind] * len(names), multipliers(counts, expected)), key=_telling)


def item_lines(items: Sequence[ItemFacts], finds: Sequence[Find], now: datetime) -> list[ItemLine]:
    """Return how often each item comes back, against what others of its kind do in as long; the likeliest to come back first."""
    years = [years_used(item, now) for item in items]
    total = sum(years)
    if not items or not finds or total <= 0:
        return []
    found, rate = _by_item(finds), len(finds) / total
    counts = np.array([float(found.get(item.id, 0)) for item in items])
    learned = multipliers(counts, np.array([max(rate * each, 1e-3) for each in years]))
    most = np.argsort(-learned.mean, kind="stable")[:MOST_ITEMS].tolist()
    lines = lines_of([items[i].name for i in most], [items[i].kind for i in most], learned.taken(most))
    return [ItemLine(items[i].code, items[i].name, years[i], line) for i, line in zip(most, lines, strict=True)]


def item_history(items: Sequence[ItemFacts], finds: Sequence[Find], code: str, now: datetime) -> ItemHistory:
    """Return one item's own history among `items`, all of its kind. Raises StopIteration where it is not among them."""
    item = next(each for each in items if each.code == code)
    years = {each.id: years_used(each, now) for each in items}
    total, own = max(sum(years.values()), 1e-6), years[item.id]
    counts: dict[str, int] = {}
    mine: dict[str, int] = {}
    for find in finds:
        counts[find.failure] = counts.get(find.failure, 0) + 1
        if find.item_id == item.id:
            mine[find.failure] = mine.get(find.failure, 0) + 1
    found = _by_item(finds)
    everyone = multipliers(
        np.array([float(found.get(each.id, 0)) for each in items]),
        np.array([max(len(finds) * age / total, 1e-3) for age in years.values()]),
    )
    line = lines_of([item.name], [item.kind], everyone.taken([items.index(item)]))[0]
    names = sorted(counts, key=lambda name: (-mine.get(name, 0), name))
    if not names:
        return ItemHistory(ItemLine(item.code, item.name, own, line), ())
    expected = np.array([max(counts[name] * own / total, 1e-3) for name in names])
    learned = multipliers(np.array([float(mine.get(name, 0)) for name in names]), expected)
    lines = [each for each in lines_of(names, [item.kind] * len(names), learned) if each.count]
    return ItemHistory(ItemLine(item.code, item.name, own, line), tuple(lines))


def years_used(item: ItemFacts, now: datetime) -> float:
    """Return for how long an item has been in use [years]; where nobody said since when, since it was put on the register."""
    until: date = item.retired or now.date()
    return max((until - (item.first_used or item.bought or item.opened.date())) / YEAR, 0.0)


def _by_item(finds: Sequence[Find]) -> dict[int, int]:
    found: dict[int, int] = {}
    for find in finds:
        found[find.item_id] = found.get(find.item_id, 0) + 1
    return found


def lines_of(names: Sequence[str], kinds: Sequence[str], learned: Learned) -> list[Line]:
    """Return what was learned of some things by their names and kinds."""
    low, high = learned.interval()
    columns = (learned.count, learned.expected, learned.mean, low, high)
    return [Line(name, kind, *values) for name, kind, *values in zip(names, kinds, *(c.tolist() for c in columns), strict=True)]


def _telling(line: Line) -> tuple[bool, float]:
    """Return what lines are sorted by: clear ones first, then by how far from usual."""
    return not line.clear, -abs(float(np.log(max(line.times, 1e-6))))
