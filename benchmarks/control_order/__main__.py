"""`python -m benchmarks.control_order`: how soon failing items are known over 50 drawn days, against the order of clauses.

Every order meets the very same items. The order learnt begins with what is usual and is settled anew after every 100 items, from
nothing but what that day's tests have found: a test behind an item's first failure was not made and counts for nothing. Beside
it stand the order of what is usual, never learnt, the quickest test first, and the best that the day's true chances and seconds
allow, which for up to ten tests is held to dynamic programming over all orders as it goes.
`--days`, `--seed`.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np

from benchmarks.control_order.days import Bench, Day, benches, drawn_day
from foible.control.failing import failure_chances
from foible.control.order import TimedTest, best_order, exact_order, spent
from foible.control.timed import pick_up, timed, usual_chance

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    Order = tuple[TimedTest, ...]

EVERY = 100
LOOKED_THROUGH = 10
ROWS: tuple[tuple[str, bool, dict[str, Any]], ...] = (
    ("Tests that fail independently", False, {}),
    ("Taking up a tool counts too", True, {}),
    ("Failures come together on neglected items", False, {"together": True}),
    ("Chances differ less, nine in ten within a factor of 2.7", False, {"spread": 0.6}),
)
ORDERS = ("clauses", "usual", "quickest first", "learnt", "best")


class Table:
    """One way of ordering, with what it has taken: seconds over failing items, how many there were, seconds over sound ones."""

    def __init__(self) -> None:
        self.failing, self.count, self.sound = 0.0, 0, 0.0

    @property
    def mean(self) -> float:
        """Mean seconds until a failing item is known."""
        return self.failing / self.count


def played(day: Day, *, tools: bool) -> dict[str, Table]:
    """Return what each way of ordering takes over a day; with `tools`, taking one up counts."""
    took = pick_up() if tools else {}
    tables = {name: Table() for name in ORDERS}
    orders: dict[str, dict[Bench, Order]] = {name: {} for name in ORDERS}
    seen: defaultdict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])
    every = benches()
    for number, item in enumerate(day.items):
        if number % EVERY == 0:
            chances = learnt(seen, every)
            for name in ORDERS if number == 0 else ("learnt",):
                orders[name] = {bench: ordered(name, bench, day, chances, took) for bench in every}
        fails = dict(zip(day.chance, day.fails[number].tolist(), strict=True))
        for bench, name in product((bench for bench in every if (bench.kind, bench.weapon) == item), ORDERS):
            for test, failed in tested(orders[name][bench], day, fails, took, tables[name]):
                if name == "learnt":
                    seen[test][0] += failed
                    seen[test][1] += 1
    return tables


def learnt(seen: Mapping[str, list[float]], every: Sequence[Bench]) -> dict[str, float]:
    """Return what is believed of each chance so far."""
    wanted = {each.id: each for bench in every for each in bench.wanted}
    counts = np.array([seen.get(name, [0.0, 0.0]) for name in wanted])
    usual = np.array([usual_chance(each) for each in wanted.values()])
    return dict(zip(wanted, failure_chances(counts[:, 0], counts[:, 1], usual).mean.tolist(), strict=True))


def ordered(name: str, bench: Bench, day: Day, chances: Mapping[str, float], took: Mapping[str, float]) -> Order:
    """Return the tests of a bench in one of the ways of `ORDERS`."""
    match name:
        case "clauses":
            return timed(bench.wanted)
        case "quickest first":
            return tuple(sorted(timed(bench.wanted), key=lambda test: test.seconds))
        case "usual":
            return best_order(timed(bench.wanted), took)
        case "learnt":
            return best_order(timed(bench.wanted, chances=chances), took)
    truth = timed(bench.wanted, chances=day.chance, seconds=day.seconds)
    best = best_order(truth, took)
    if not took and len(truth) <= LOOKED_THROUGH:
        assert abs(spent(best).drawn - spent(exact_order(truth)).drawn) < 1e-9  # noqa: PLR2004 — rounding
    return best


def tested(order: Order, day: Day, fails: Mapping[str, bool], took: Mapping[str, float], table: Table) -> list[tuple[str, bool]]:
    """Test one item until it fails; add up what it took; return the tests made and whether they failed."""
    made, time, hand = [], 0.0, ""
    for test in order:
        time += day.seconds[test.name] + (took.get(test.tool, 0.0) if test.tool != hand else 0.0)
        hand = test.tool
        made.append((test.name, fails[test.name]))
        if fails[test.name]:
            table.failing, table.count = table.failing + time, table.count + 1
            return made
    table.sound += time
    return made


def told(title: str, days: Sequence[Mapping[str, Table]]) -> None:
    """Print the means over days, and how each day came out."""
    print(f"{title}: {len(days)} days, {sum(day['clauses'].count for day in days)} failing items at their stations")
    print(f"  {'order':16}{'until known':>12}{'of clauses':>12}{'5–95 % of days':>18}{'sound items':>14}")
    base = np.array([day["clauses"].mean for day in days])
    for name in ORDERS:
        mean = np.array([day[name].mean for day in days])
        sound = sum(day[name].sound for day in days) / sum(day["clauses"].sound for day in days)
        low, high = np.quantile(mean / base, (0.05, 0.95))
        print(f"  {name:16}{mean.mean():10.1f} s{mean.mean() / base.mean():12.1%}{low:11.0%} –{high:4.0%}{sound:14.2%}")


def main() -> None:
    """Draw, test, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=50)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    for title, tools, law in ROWS:
        rngs = [np.random.default_rng([given.seed, number]) for number in range(given.days)]
        told(title, [played(drawn_day(rng, **law), tools=tools) for rng in rngs])


if __name__ == "__main__":
    main()
