"""Tests and what each catches in; a short list of them that catches what it must and leaves no more doubt than asked, out.

With w_k the odds of fault k against sound, and r_tk the chance that test t passes under fault k over that with sound kit, the
odds that anything is wrong once each test t of a list has passed n_t times are Σ_k w_k Π_t r_tk^n_t.

The cheapest set of tests that catches all it must is a set cover, solved as an integer programme. What more is needed against
doubt is added greedily, by what each test takes off the logarithm of the doubt for its cost, and tests that turn out needless
are dropped. How far the list can be from the cheapest is known: log doubt is convex in n (a log-sum-exp of linear functions),
so its tangents cut off only lists that are too doubtful, and a linear programme with enough of them (Kelley 1960) bounds the
cost of every list from below. For few tests the same cuts in integer programmes end with the cheapest list itself (outer
approximation, Duran & Grossmann 1986).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]
    Counts = NDArray[np.intp]

__all__ = ["CAUGHT", "Battery", "ShortList", "short_list"]

CAUGHT = 0.5
"""A test catches a fault that passes it at most half as often as sound kit does; judgement, no source."""
LEAST = 1e-9
"""No fault passes a test less often than this: nobody is surer than that of what was read."""
FEW = 14
"""Up to so many tests the cheapest list is searched for to the end."""
CUTS = 40
"""Tangents that are laid; more bring the bound no nearer that would matter."""
NEAR = 1e-9


@dataclass(frozen=True)
class Battery:
    """Tests that could be made, and the faults that they could find.

    `cost`: of each test, shape (T,) [s]; `most`: how often each is made at most, shape (T,); `odds`: of each fault against sound
    before any test, shape (K,); `passing`: the chance that a test passes under a fault over that with sound kit, shape (T, K);
    `must`: whether a fault has to be caught by some test of the list, shape (K,).
    """

    cost: Floats
    most: Counts
    odds: Floats
    passing: Floats
    must: Bools

    def doubt(self, counts: Counts | Floats) -> float:
        """Return the odds that any fault is there once a list has passed; `counts` of each test, shape (T,)."""
        return float(np.exp(self.logs.T @ counts) @ self.odds)

    @property
    def logs(self) -> Floats:
        """Logarithms of `passing`, shape (T, K)."""
        return np.asarray(np.log(np.clip(self.passing, LEAST, 1.0)))

    def catches(self) -> Bools:
        """Return which test catches which fault, shape (T, K)."""
        return np.asarray(self.passing <= CAUGHT + NEAR)

    def merged(self) -> Battery:
        """Return the same tests with faults that pass each of them alike taken together; what no test catches need not be."""
        rows = np.concatenate([(self.must & self.catches().any(axis=0))[None], np.round(self.passing, 4)])
        _, first, kind = np.unique(rows, axis=1, return_index=True, return_inverse=True)
        odds = np.bincount(kind.ravel(), weights=self.odds, minlength=len(first)).astype(np.float64)
        return Battery(self.cost, self.most, odds, self.passing[:, first], rows[0, first] > 0)


@dataclass(frozen=True)
class ShortList:
    """A list of tests."""

    counts: Counts
    """How often each test is made, shape (T,)."""
    cost: float
    doubt: float
    """The odds that any fault is there once it has passed."""
    least: float
    """No list that is good enough costs less than this."""
    enough: bool
    """Whether it leaves no more doubt than asked; where no list does, it leaves hardly more than the longest."""

    @property
    def cheapest(self) -> bool:
        """Whether no list can be cheaper."""
        return self.cost <= self.least * (1 + 1e-6)


def short_list(battery: Battery, doubt: float) -> ShortList:
    """Return a cheap list that leaves odds of at most `doubt` that anything is wrong.

    A fault that must be caught and that no test catches is left out of account: the caller names it.
    """
    small = battery.merged()
    caught = np.unique(small.catches()[:, small.must], axis=1)
    floor = small.doubt(small.most)
    target = max(doubt, floor * 1.02)
    cover = _cover(small, caught)
    starts = (cover, np.zeros_like(cover))
    counts = min((_filled(small, caught, target, start) for start in starts), key=lambda found: float(small.cost @ found))
    least = float(small.cost @ cover)
    if small.doubt(cover) > target:
        cuts = _cuts(small, caught, target, counts)
        least = max(least, cuts.bound)
        if len(small.cost) <= FEW:
            counts = _exactly(small, cuts, target, counts)
            least = float(small.cost @ counts)
    return ShortList(counts, float(small.cost @ counts), small.doubt(counts), least, floor <= doubt)


def _cover(battery: Battery, caught: Bools) -> Counts:
    """Return the cheapest set of tests that catches everything: an integer programme."""
    tests = len(battery.cost)
    if not caught.shape[1]:
        return np.zeros(tests, dtype=np.intp)
    once = LinearConstraint(caught.T.astype(float), 1, np.inf)
    found = milp(battery.cost, integrality=np.ones(tests, dtype=np.intp), bounds=Bounds(0, 1), constraints=once)
    assert found.x is not None  # noqa: S101 — every fault in it is caught by some test
    return np.rint(found.x).astype(np.intp)


def _filled(battery: Battery, caught: Bools, target: float, start: Counts) -> Counts:
    """Return a list grown from `start`, test by test, by whatever helps most for its cost, without those that are needless."""
    counts = start.copy()
    while (open_ := ~caught[counts > 0].any(axis=0)).any():
        counts[int(np.argmax(np.where(counts == 0, caught[:, open_].sum(axis=1) / battery.cost, -1.0)))] += 1
    logs = battery.logs
    while (now := battery.doubt(counts)) > target:
        weight = battery.odds * np.exp(logs.T @ counts)
        left = np.exp(logs) @ weight
        gain = np.where(counts < battery.most, np.log(now / left) / battery.cost, -1.0)
        counts[int(np.argmax(gain))] += 1
    for test in np.argsort(-battery.cost, kind="stable").tolist():
        while counts[test]:
            counts[test] -= 1
            if battery.doubt(counts) > target or not caught[counts > 0].any(axis=0).all():
                counts[test] += 1
                break
    return counts


@dataclass(frozen=True)
class _Cuts:
    """What every list that is good enough keeps to: rows · n ≤ highs, shape (R, T) and (R,), and what it costs at least."""

    rows: Floats
    highs: Floats
    bound: float


def _tangent(battery: Battery, target: float, at: Floats | Counts) -> tuple[Floats, float]:
    """Return the row and the bound of the tangent to log doubt in a list, whole or not."""
    weight = battery.odds * np.exp(battery.logs.T @ at)
    slope = battery.logs @ (weight / weight.sum())
    return slope, float(np.log(target / weight.sum()) + slope @ at)


def _cuts(battery: Battery, caught: Bools, target: float, counts: Counts) -> _Cuts:
    """Lay tangents where lists in parts of tests are cheapest, and return them with the last bound."""
    rows, highs = [*-caught.T.astype(float)], [-1.0] * caught.shape[1]
    at: Floats | Counts = counts
    bounds, bound = [(0.0, float(most)) for most in battery.most], 0.0
    for _ in range(CUTS):
        row, high = _tangent(battery, target, at)
        rows.append(row)
        highs.append(high)
        found = linprog(battery.cost, np.array(rows), np.array(highs), bounds=bounds)
        if found.x is None or found.fun is None or found.fun <= bound * (1 + 1e-4) - NEAR:
            break
        at, bound = found.x, float(found.fun)
        if battery.doubt(at) <= target * (1 + 1e-4):
            break
    return _Cuts(np.array(rows), np.array(highs), bound)


def _exactly(battery: Battery, cuts: _Cuts, target: float, known: Counts) -> Counts:
    """Return the cheapest list: integer programmes with a tangent more each time, until one's answer is good enough."""
    rows, highs = cuts.rows, cuts.highs
    while True:
        limits = LinearConstraint(rows, -np.inf, highs + NEAR)
        found = milp(
            battery.cost,
            integrality=np.ones(len(battery.cost), dtype=np.intp),
            bounds=Bounds(0, battery.most),
            constraints=limits,
        )
        if found.x is None:
            return known
        at = np.rint(found.x).astype(np.intp)
        if battery.doubt(at) <= target * (1 + NEAR):
            return at
        row, high = _tangent(battery, target, at)
        if (abs(rows - row).max(axis=1) < NEAR).any():
            return known
        rows, highs = np.concatenate([rows, row[None]]), np.append(highs, high)
