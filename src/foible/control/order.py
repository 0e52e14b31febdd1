"""Tests of a station with their seconds and chances to fail in; out, the order that knows of a failing item soonest.

An item is tested until it fails once, or has passed everything. In the order 1 … n an item takes

    E[T] = Σ_i c_i Π_{j<i} (1 − p_j)

[s], c_i being the seconds of a test and p_i the chance that it fails, tests failing independently of each other. Exchanging two
neighbours shows that E[T] is least with c_i / p_i rising: the ratio rule (Mitten, "An analytic solution to the least cost testing
sequence problem", J. Industrial Engineering 11, 1960). Whatever the order, a sound item takes Σ c_i, so the rule shortens nothing
but the time until a failing item is known, and leaves nothing out.

Tests that share a tool are done in one go: a block of them is one test of E[T] seconds, its tool taken up, that fails with
1 − Π (1 − p); blocks are in the same way in order of their ratio, and every tool is taken up once, the least that a sound
item can take. Where one test must wait for another (`after`), the best of all orders is found by dynamic programming over what
has been passed, `exact_order`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from foible.control.subsets import best_sequence

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

__all__ = ["MOST_EXACT", "Spent", "TimedTest", "best_order", "exact_order", "spent"]

MOST_EXACT = 12
"""Tests; of more, those that must wait for others are placed with what they wait for, which is exact for chains only."""
LEAST_CHANCE = 1e-12
"""A test that never fails still has an order among its like: the quick ones first."""


@dataclass(frozen=True)
class TimedTest:
    """One test of a station: `seconds` it takes [s, above 0] and the chance that an item `fails` it [0 … 1].

    `after`: names of tests that come before it. `tool`: what is in hand for it; "" where nothing is taken up.
    Raises ValueError for seconds and chances that cannot be.
    """

    name: str
    seconds: float
    fails: float
    after: tuple[str, ...] = ()
    tool: str = ""

    def __post_init__(self) -> None:
        if not 0 < self.seconds < float("inf") or not 0 <= self.fails <= 1:
            seen = f"test “{self.name}”: {self.seconds} s and a chance of {self.fails}"
            msg = f"{seen}; give seconds above 0 and a chance from 0 to 1"
            raise ValueError(msg)

    @property
    def ratio(self) -> float:
        """Seconds for each failing item found [s]."""
        return self.seconds / max(self.fails, LEAST_CHANCE)


@dataclass(frozen=True)
class Spent:
    """What items take in some order [s]: a `sound` one, the mean `failing` one until it is known, the mean one `drawn`.

    `fails`: the chance that an item fails anything. Without any chance of failing, `failing` is the time of a sound one.
    """

    sound: float
    failing: float
    drawn: float
    fails: float


def spent(order: Iterable[TimedTest], pick_up: Mapping[str, float] | None = None) -> Spent:
    """Return what items take in this order; `pick_up`: seconds to take up each tool, whenever it is not in hand."""
    order = tuple(order)
    pick_up, hand = pick_up or {}, ""
    sound, drawn, passed = 0.0, 0.0, 1.0
    for test in order:
        takes = test.seconds + (pick_up.get(test.tool, 0.0) if test.tool != hand else 0.0)
        sound += takes
        drawn += passed * takes
        passed *= 1 - test.fails
        hand = test.tool
    fails = 1 - passed
    failing = (drawn - passed * sound) / fails if fails > 0 else sound
    return Spent(sound, failing, drawn, fails)


def best_order(tests: Sequence[TimedTest], pick_up: Mapping[str, float] | None = None) -> tuple[TimedTest, ...]:
    """Return the tests in the order that takes least time on the mean, every tool that takes time being taken up once.

    Of equals the earlier given comes first. With `after` it is exact up to `MOST_EXACT` blocks; where tools would have to wait
    for each other, one is taken up again. Raises ValueError for tests that wait for each other or for none that is there.
    """
    _check_waits(tests)
    blocks: dict[str, list[TimedTest]] = {}
    for test in tests:
        shared = bool(pick_up and pick_up.get(test.tool, 0.0) > 0)
        blocks.setdefault(f"tool {test.tool}" if shared else f"test {test.name}", []).append(test)
    within = {name: _in_order(_waits_within(block)) for name, block in blocks.items()}
    ordered = {name: tuple(next(test for test in tests if test.name == own.name) for own in within[name]) for name in blocks}
    of = {test.name: name for name, block in blocks.items() for test in block}
    wholes = [_whole(name, block, of, pick_up) for name, block in ordered.items()]
    try:
        _check_waits(wholes)
    except ValueError:
        return exact_order(tests, pick_up) if len(tests) <= MOST_EXACT else _with_what_they_wait_for(tests)
    return tuple(test for whole in _in_order(wholes) for test in ordered[whole.name])


def _in_order(tests: Sequence[TimedTest]) -> tuple[TimedTest, ...]:
    """Return tests, or blocks of them, by the ratio rule; where some wait for others, by looking through subsets."""
    if not any(test.after for test in tests):
        return tuple(sorted(tests, key=lambda test: test.ratio))
    return exact_order(tests) if len(tests) <= MOST_EXACT else _with_what_they_wait_for(tests)


def _waits_within(block: Sequence[TimedTest]) -> list[TimedTest]:
    names = {test.name for test in block}
    return [replace(test, after=tuple(name for name in test.after if name in names)) for test in block]


def _whole(name: str, block: Sequence[TimedTest], of: Mapping[str, str], pick_up: Mapping[str, float] | None) -> TimedTest:
    """Return a block as one test: what it takes on the mean, its tool taken up, and the chance that any of it fails."""
    awaited = {of[each] for test in block for each in test.after} - {name}
    took = spent(block, pick_up)
    return TimedTest(name, took.drawn, took.fails, tuple(sorted(awaited)))


def exact_order(tests: Sequence[TimedTest], pick_up: Mapping[str, float] | None = None) -> tuple[TimedTest, ...]:
    """Return the best of all orders, by dynamic programming over subsets: 2ⁿ steps for n tests, at most 20.

    With `pick_up` it takes up a tool again where that is quicker for the mean item, although a sound one then takes longer.
    """
    _check_waits(tests)
    place = {test.name: number for number, test in enumerate(tests)}
    tools = list(dict.fromkeys(test.tool for test in tests))
    order = best_sequence(
        seconds=[test.seconds for test in tests],
        fails=[test.fails for test in tests],
        tool=[tools.index(test.tool) for test in tests],
        pick_up=[(pick_up or {}).get(tool, 0.0) if tool else 0.0 for tool in tools],
        after=[sum(1 << place[name] for name in set(test.after)) for test in tests],
    )
    return tuple(tests[number] for number in order)


def _check_waits(tests: Sequence[TimedTest]) -> None:
    """Raise ValueError where a name stands twice, or tests wait for each other or for one that is not there."""
    names = [test.name for test in tests]
    twice = {name for name in names if names.count(name) > 1}
    missing = {f"“{test.name}” waits for “{name}”" for test in tests for name in test.after if name not in names}
    if twice or missing:
        seen = "; ".join([*sorted(f"“{name}” stands twice" for name in twice), *sorted(missing)])
        msg = f"{seen}: give each test once, and with it those that it waits for"
        raise ValueError(msg)
    done: set[str] = set()
    while ready := [test.name for test in tests if test.name not in done and set(test.after) <= done]:
        done |= set(ready)
    if stuck := sorted(set(names) - done):
        msg = f"{', '.join(stuck)} wait for each other, so none of them can be first"
        raise ValueError(msg)


def _with_what_they_wait_for(tests: Sequence[TimedTest]) -> tuple[TimedTest, ...]:
    """Return an order: again and again the test whose ratio, with all it still waits for, is the least.

    Exact for chains (Simon & Kadane, "Optimal problem-solving search: all-or-none solutions", Artificial Intelligence 6, 1975).
    """

    def ratio(chain: Iterable[TimedTest]) -> float:
        took = spent(chain)
        return took.drawn / max(took.fails, LEAST_CHANCE)

    left = {test.name: test for test in tests}
    order: list[TimedTest] = []
    while left:
        order += min((_awaited(test, left) for test in left.values()), key=ratio)
        left = {name: test for name, test in left.items() if test not in order}
    return tuple(order)


def _awaited(test: TimedTest, left: Mapping[str, TimedTest]) -> tuple[TimedTest, ...]:
    """Return a test behind those of `left` that it waits for, the best of them first."""
    wanted: dict[str, TimedTest] = {}
    stack = [name for name in test.after if name in left]
    while stack:
        name = stack.pop()
        if name not in wanted:
            wanted[name] = left[name]
            stack += [each for each in left[name].after if each in left]
    if not wanted:
        return (test,)
    within = [replace(each, after=tuple(name for name in each.after if name in wanted)) for each in wanted.values()]
    return (*(left[each.name] for each in _in_order(within)), test)
