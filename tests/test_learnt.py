"""What the day's readings teach of items and of u, against laws that are known, quadrature and simulation."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy import integrate, stats

from foible.control.conformity import Tolerance, probability
from foible.control.law_fits import CELLS, bins_of, counted
from foible.control.learnt import due, learnt
from foible.control.priors import LognormalPrior, NormalPrior
from foible.control.repeats import Scatter, learnt_scatter

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from foible.control.learnt import Learnt
    from foible.control.priors import Floats, Prior

LIMIT = Tolerance(upper=1.0)
THOUGHT = LognormalPrior(0.75, 0.25)
U = 0.05
SURE = Scatter(U, random_freedom=1e6)
"""u is known."""
NEAR = np.linspace(0.9, 1.1, 21)


def once(readings: Iterable[float], before: Prior | None = THOUGHT) -> Learnt:
    """Return what items teach that were read once, u being known."""
    return learnt([(reading,) for reading in readings], SURE, 1.0, before)


def at_the_table(rng: np.random.Generator, true: Floats, u: float) -> list[tuple[float, ...]]:
    """Return the readings of items, a second one of those that first read within 0.1 Ω of the limit."""
    first, second = true + rng.normal(0, u, len(true)), true + rng.normal(0, u, len(true))
    return [(a, b) if abs(a - 1) < 0.1 else (a,) for a, b in zip(first, second, strict=True)]


def test_readings_teach_which_items_come_as_closely_as_knowing_their_law() -> None:
    """Items are N(0.9, 0.06), thought to be lognormal: the normal prior's closed form is what there was to learn."""
    rng = np.random.default_rng(6)
    found = once(rng.normal(0.9, math.hypot(0.06, U), 4000)).probability(NEAR, LIMIT)
    known = probability(NEAR, U, LIMIT, prior=NormalPrior(0.9, 0.06))
    thought = probability(NEAR, U, LIMIT, prior=THOUGHT)
    assert np.abs(found - known).max() < 0.05
    assert np.abs(found - known).mean() < np.abs(thought - known).mean() / 5


def test_what_all_readings_are_off_by_alike_widens_what_is_told_and_is_not_learnt() -> None:
    """By hand: items read N(0.9, 0.06² + 0.05²), all off by a zero of which 0.07 is known.

    Given r they are N(c, v²), c = (0.06² r + 0.05² · 0.9)/(0.06² + 0.05²), 1/v² = 1/0.06² + 1/0.05² (JCGM 106:2012, A.4), and
    √(v² + 0.07²) with the zero.
    """
    rng = np.random.default_rng(11)
    items = [(reading,) for reading in rng.normal(0.9, math.hypot(0.06, U), 4000)]
    found = learnt(items, Scatter(U, 0.07, random_freedom=1e6), 1.0, THOUGHT).probability(NEAR, LIMIT)
    centre = (0.06**2 * NEAR + U**2 * 0.9) / (0.06**2 + U**2)
    spread = math.sqrt(1 / (1 / 0.06**2 + 1 / U**2) + 0.07**2)
    assert found == pytest.approx(stats.norm.cdf((1 - centre) / spread), abs=0.03)


def test_without_readings_what_was_thought_stands() -> None:
    found = once([]).probability(NEAR, LIMIT)
    # Half of the belief is that there may be a spike somewhere: the smooth part is the prior, the whole is near it.
    assert found == pytest.approx(probability(NEAR, U, LIMIT, prior=THOUGHT), abs=0.06)


def test_items_made_just_to_the_limit_show_as_even_odds() -> None:
    """Half of the items are 1 Ω to a hundredth: each of them keeps the limit as likely as not, whatever it reads."""
    rng = np.random.default_rng(7)
    true = np.where(rng.random(3000) < 0.5, rng.normal(1.0, 0.01, 3000), rng.lognormal(math.log(0.75), 0.25, 3000))
    found = once(true + rng.normal(0, U, 3000))
    assert float(found.probability(np.array(1.02), LIMIT)) == pytest.approx(0.5, abs=0.1)
    assert float(probability(1.02, U, LIMIT)) < 0.35


def test_a_learnt_density_adds_up_and_ends_where_it_knows_nothing() -> None:
    prior = once([0.9, 0.95, 1.0], None).priors[0]
    grid = np.linspace(0.55, 1.45, 4001)
    assert np.trapezoid(np.exp(prior.log_density(grid)), grid) == pytest.approx(1, abs=0.02)
    assert prior.log_density(np.array([3.0]))[0] == -math.inf


def test_second_readings_teach_how_far_readings_scatter() -> None:
    """By hand: ν₀ = 8 at 0.1 and pairs (1.0, 1.2), (0.8, 0.8) give 8 · 0.01 + 0.02 + 0 = 0.1 over 10 degrees of freedom."""
    found = learnt_scatter(Scatter(0.1), [(1.0, 1.2), (0.8, 0.8), (0.5,)])
    assert found.random == pytest.approx(0.1)
    assert found.random_freedom == 10
    assert learnt_scatter(Scatter(0.1), [(1.0, 1.0)] * 32).random == pytest.approx(0.1 * math.sqrt(8 / 40))


def test_degrees_of_freedom_are_those_of_welch_and_satterthwaite() -> None:
    """JCGM 100:2008, G.4.1, equation G.2b: parts of 3 and 4 with 8 and 20 degrees have 5⁴ / (3⁴/8 + 4⁴/20) = 27.3."""
    scatter = Scatter(3.0, 4.0, 8.0, 20.0)
    assert scatter.uncertainty() == pytest.approx(5.0)
    assert scatter.freedom() == pytest.approx(27.27, abs=0.01)
    assert scatter.uncertainty(9) == pytest.approx(math.sqrt(17))


def _by_quadrature(items: Sequence[Sequence[float]], u: float, mean: float, spread: float) -> float:
    """Return ln of how likely readings are: ∫ N(x; mean, spread²) Π N(rᵢ; x, u²) dx over that of a first one within 6 u."""

    def of_item(x: float, readings: Sequence[float]) -> float:
        exponent = ((x - mean) / spread) ** 2 + sum(((reading - x) / u) ** 2 for reading in readings)
        return math.exp(-exponent / 2) / spread / u ** len(readings)

    both = stats.norm(mean, math.hypot(spread, u))
    window = both.cdf(1 + 6 * U) - both.cdf(1 - 6 * U)
    ends = mean - 6 * spread, mean + 6 * spread
    each = [
        integrate.quad(of_item, *ends, args=(readings,), points=sorted({*readings, mean}), epsabs=0, epsrel=1e-9)[0]
        for readings in items
    ]
    return float(np.log(each).sum() - len(each) * np.log(window))


def test_an_item_read_twice_counts_as_quadrature_over_its_true_value_does() -> None:
    """N(r₁; x, u²) N(r₂; x, u²) = N(r₁ − r₂; 0, 2u²) N(r̄; x, u²/2), in bins of u/4: how likely u × 1.2 is beside u × 0.9."""
    rng = np.random.default_rng(8)
    items = at_the_table(rng, rng.normal(1.03, 0.04, 150), U * 1.1)
    law = stats.norm.pdf(1 + U * CELLS, 1.03, 0.04)

    def by_bins(times: float) -> float:
        seen = counted(items, SURE, 1.0)
        chances = bins_of(seen, times).caught @ (law / law.sum())
        pairs = [(a - b) / U for a, b in (each for each in items if len(each) > 1)]
        apart = float(np.sum(stats.norm.logpdf(pairs, 0, times * math.sqrt(2))))
        return float(np.log(chances) @ seen.counts - seen.counts.sum() * np.log(chances[: seen.window].sum()) + apart)

    known = _by_quadrature(items, U * 1.2, 1.03, 0.04) - _by_quadrature(items, U * 0.9, 1.03, 0.04)
    assert len([each for each in items if len(each) > 1]) > 100
    assert by_bins(1.2) - by_bins(0.9) == pytest.approx(known, abs=0.3)
    assert abs(known) > 3


def test_u_is_learnt_although_only_what_read_close_was_read_again() -> None:
    """True u is × 1.25. Of items just over the limit those are read again that read close, and pairs alone think u smaller."""
    rng = np.random.default_rng(9)
    true = np.where(rng.random(2500) < 0.25, rng.normal(1.03, 0.01, 2500), rng.lognormal(math.log(0.75), 0.25, 2500))
    items = at_the_table(rng, true, 1.25 * U)
    assert learnt_scatter(Scatter(U), items).uncertainty() / U < 1.2
    assert learnt(items, Scatter(U), 1.0, THOUGHT).uncertainty / U == pytest.approx(1.25, abs=0.04)


def test_a_second_reading_teaches_more_of_the_items_than_one() -> None:
    """Spikes an uncertainty's half apart: with second readings those just over the limit show for what they are."""
    rng = np.random.default_rng(10)
    true = np.where(rng.random(1200) < 0.25, rng.normal(1.03, 0.01, 1200), rng.lognormal(math.log(0.75), 0.25, 1200))
    items = at_the_table(rng, true, U)
    near = np.array([each[0] for each in items if len(each) > 1])
    right = true[[len(each) > 1 for each in items]] <= 1
    score = [
        np.mean((found.probability(near, LIMIT) - right) ** 2)
        for found in (learnt(items, SURE, 1.0, THOUGHT), once(r[0] for r in items))
    ]
    assert score[0] < score[1]


@pytest.mark.parametrize("item", [(0.6,), (0.9,), (0.9, 0.9)])
def test_a_hundred_items_that_read_the_same_are_learnt_from_as_well(item: tuple[float, ...]) -> None:
    """A display of coarse steps, or a table that types what it is used to: what fits far worse than the best u is left out."""
    found = learnt([item] * 100, Scatter(0.0818), 1.0).probability(NEAR, LIMIT)
    assert np.all((found >= 0) & (found <= 1))
    assert np.all(np.diff(found) <= 0)


def test_it_is_learnt_anew_each_time_there_are_a_third_more() -> None:
    steps = sorted({due(count) for count in range(1000)})
    assert steps[:5] == [0, 10, 14, 18, 24]  # by hand: 10, 13.3, 17.8, 23.7, each rounded up
    assert all(due(step) == step and due(step - 1) < step for step in steps[1:])
