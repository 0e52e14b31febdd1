"""A season of the register: what failed, what it cost, what to order, to take along, to mend or retire, and what care spares."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from foible.learning import Choice, Demand, KeptCost, enough, fitted_weibull, mend_or_retire
from foible.services.club_rates import sideless
from foible.services.register.learned import years_used
from foible.services.register.lives_seen import PartLife, item_lives, lives_of_kind
from foible.tomlfile import Strict, Words, read_model

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from foible.kit import Setup
    from foible.records.experience import ExperienceStore, ItemFacts, JobFacts, PartUse

__all__ = ["FAULTS", "Care", "Cause", "Order", "Plan", "Season", "Spare", "Verdict", "season", "season_of", "usual_repairs"]

YEAR = 365.25
STARTS = 9
"""The month in which a season begins."""
FAULTS = 0.08
"""Items that fail, for each fencer and day of a competition; judgement, no source."""
FAULTS_SHAPE = 4.0
"""How sure that is: the shape of its Gamma distribution (90 % within 0.34–1.9 ×); judgement, no source."""
LIFE_YEARS = 5.0
"""The life of a new item where nothing is known of its kind; judgement, no source."""
PER_HOUR = 1000
"""What an hour of the armourer's counts for [hundredths]; judgement, no source."""
USE_WEIGHT = 0.5
"""Parts that the average use of a part counts for, beside its own; judgement, no source."""
LEAST_A_YEAR = 0.2
"""What is thought to be used of a part in a year where none has ever been; judgement, no source."""
WORTH_ASKING = 2
"""Jobs from which on it is asked whether an item is worth mending again."""
MOST_ASKED = 60
"""Items of a kind for which it is asked, those that come back most often."""
SPARE_KINDS = ("weapon", "cord", "mask cord", "lamé", "cuff", "bib", "reel", "floor cable")
"""Kinds of item that are taken along to be exchanged."""
SHARED_KINDS = frozenset({"reel", "floor cable"})


@dataclass(frozen=True, slots=True)
class Plan:
    """What the page asks for: when it ends, how sure to be, and the competition."""

    start: date
    end: date
    level: float = 0.95
    months: float = 10.0
    """For how long parts are ordered."""
    fencers: int = 20
    days: int = 1
    per_hour: int = PER_HOUR
    """What an hour of the armourer's counts for [hundredths]."""


@dataclass(frozen=True, slots=True)
class Cause:
    """A failure of the season with its share and that of all commoner ones."""

    name: str
    count: int
    share: float
    together: float


@dataclass(frozen=True, slots=True)
class Order:
    """A part, what will be needed of it, and what to order."""

    part: PartUse
    expected: float
    enough: int
    order: int
    cost: int


@dataclass(frozen=True, slots=True)
class Spare:
    """What to take along of a kind."""

    kind: str
    expected: float
    enough: int


@dataclass(frozen=True, slots=True)
class Verdict:
    """Whether an item is worth mending again."""

    item: ItemFacts
    jobs: int
    years: float
    cost: float
    choice: Choice


@dataclass(frozen=True, slots=True)
class Care:
    """Something done before it fails, and how many of the season's failures it might have spared."""

    task: str
    months: tuple[int, ...]
    failures: int
    source: str


@dataclass(frozen=True)
class Season:
    """Everything that the page and the report say."""

    plan: Plan
    jobs: int
    minutes: float
    parts_cost: int
    causes: tuple[Cause, ...]
    orders: tuple[Order, ...]
    spares: tuple[Spare, ...]
    lives: tuple[PartLife, ...]
    verdicts: tuple[Verdict, ...]
    care: tuple[Care, ...]


class _CareTable(Strict):
    """One task of the file."""

    task: str
    months: tuple[int, ...]
    kinds: Words
    spares: Words
    source: str


class _CareFile(Strict):
    """All tasks of the file."""

    care: tuple[_CareTable, ...]


def season_of(today: date) -> tuple[date, date]:
    """Return the first day of the season that a day lies in, and the day after its last."""
    year = today.year if today.month >= STARTS else today.year - 1
    return date(year, STARTS, 1), date(year + 1, STARTS, 1)


def season(store: ExperienceStore, plan: Plan, repairs: Mapping[str, str], now: datetime) -> Season:
    """Return what a season comes to. `repairs`: by failure the kit's usual repair of it."""
    since, before = _midnight(plan.start), _midnight(plan.end)
    counts: dict[str, int] = {}
    kinds: dict[str, int] = {}
    for found in store.found(before, since):
        counts[found.failure] = counts.get(found.failure, 0) + found.times
        kinds[found.kind] = kinds.get(found.kind, 0) + found.times
    jobs = store.jobs(None, since, before)
    registered = list(dict.fromkeys(each.kind for each in store.kinds()))
    by_kind = {kind: _Kind(store, kind) for kind in registered}
    return Season(
        plan=plan,
        jobs=len(jobs),
        minutes=sum(job.minutes for job in jobs),
        parts_cost=sum(job.cost for job in jobs),
        causes=_causes(counts),
        orders=tuple(_orders(store.parts(), plan, now)),
        spares=tuple(_spares(kinds, plan)),
        lives=tuple(life for kind in by_kind.values() for life in lives_of_kind(kind.name, kind.items, kind.finds, now)),
        verdicts=tuple(_verdicts(list(by_kind.values()), plan, now)),
        care=tuple(_care(counts, repairs)),
    )


def usual_repairs(setups: Sequence[Setup]) -> dict[str, str]:
    """Return by failure, without a side, the kit's usual repair of it."""
    return {sideless(setup, f): f.repair for setup in setups for f in setup.failures.values() if f.repair}


class _Kind:
    """The items of a kind, with what was found in them and what their jobs took."""

    def __init__(self, store: ExperienceStore, kind: str) -> None:
        self.name = kind
        self.items = store.items(kind)
        self.finds = store.finds(kind)
        self.jobs = store.jobs(kind)


def _midnight(day: date) -> datetime:
    return datetime.combine(day, time(), tzinfo=UTC)


def _causes(counts: Mapping[str, int]) -> tuple[Cause, ...]:
    total, so_far, found = sum(counts.values()), 0, []
    for name, count in sorted(counts.items(), key=lambda entry: (-entry[1], entry[0])):
        so_far += count
        found.append(Cause(name, count, count / total, so_far / total))
    return tuple(found)


def _orders(parts: Sequence[PartUse], plan: Plan, now: datetime) -> list[Order]:
    """Return for each part what will be needed, by how much of it was used, and by the average part where little is on record."""
    years = {part.code: max((now - part.since) / timedelta(days=YEAR), 0.0) if part.since else 0.0 for part in parts}
    watched = sum(years.values())
    usual = max(sum(part.used for part in parts) / watched, LEAST_A_YEAR) if watched > 0 else LEAST_A_YEAR
    found = []
    for part in parts:
        used = max(part.used, 0)
        demand = Demand.seen(used, years[part.code], plan.months / 12, usual=usual, weight=USE_WEIGHT)
        need = enough(demand, plan.level)
        order = max(max(need, part.least) - part.count, 0)
        found.append(Order(part, demand.mean, need, order, order * (part.price or 0)))
    return sorted(found, key=lambda each: (-each.order, each.part.name))


def _spares(kinds: Mapping[str, int], plan: Plan) -> list[Spare]:
    """Return what to take along, each kind by its share of what failed; where nothing has, nothing is known."""
    total = sum(kinds.get(kind, 0) for kind in SPARE_KINDS)
    found = []
    for kind in SPARE_KINDS:
        if total and kinds.get(kind):
            rate = FAULTS * kinds[kind] / total
            demand = Demand(FAULTS_SHAPE, FAULTS_SHAPE / rate, float(plan.fencers * plan.days))
            found.append(Spare(kind, demand.mean, enough(demand, plan.level)))
    return found


def _verdicts(kinds: Sequence[_Kind], plan: Plan, now: datetime) -> list[Verdict]:
    """Return for each item in use that has come back several times whether it is worth mending, the worst first."""
    found = []
    for kind in kinds:
        years = {item.id: max(years_used(item, now), 1 / 12) for item in kind.items}
        prices = sorted(item.price for item in kind.items if item.price)
        life = fitted_weibull(item_lives(kind.items, kind.finds, now))
        of_kind = _kept(kind.jobs, sum(years.values()), plan)
        own: dict[int, list[JobFacts]] = {}
        for job in kind.jobs:
            own.setdefault(job.item_id, []).append(job)
        back = sorted(kind.items, key=lambda item: -len(own.get(item.id, ())) / years[item.id])
        for item in [each for each in back if len(own.get(each.id, ())) >= WORTH_ASKING][:MOST_ASKED]:
            price = item.price or (prices[len(prices) // 2] if prices else None)
            if price is None or item.state in {"retired", "lost"}:
                continue
            kept = _kept(own[item.id], years[item.id], plan)
            choice = mend_or_retire(kept, of_kind, price=price, life=life.mean if life else LIFE_YEARS)
            found.append(Verdict(item, kept.jobs, kept.years, kept.cost, choice))
    return sorted(found, key=lambda each: -each.choice.replacing_cheaper)


def _kept(jobs: Sequence[JobFacts], years: float, plan: Plan) -> KeptCost:
    return KeptCost(len(jobs), years, sum(job.cost + job.minutes / 60 * plan.per_hour for job in jobs))


def _care(counts: Mapping[str, int], repairs: Mapping[str, str]) -> list[Care]:
    by_repair: dict[str, int] = {}
    for failure, count in counts.items():
        if failure in repairs:
            by_repair[repairs[failure]] = by_repair.get(repairs[failure], 0) + count
    found = [
        Care(table.task, table.months, sum(by_repair.get(name, 0) for name in table.spares), table.source)
        for table in _care_tables()
    ]
    return sorted(found, key=lambda each: -each.failures)


@lru_cache(1)
def _care_tables() -> tuple[_CareTable, ...]:
    return read_model(_CareFile, Path(__file__).with_name("care.toml")).care
