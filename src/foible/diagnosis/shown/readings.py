"""Resistances in; out, what a meter and a test box would show under every failure.

A good reading is not one number: each good part lies within its spread, the leads add a little, the last digit is rounded. With
the port's resistance R and a branch's r, dR/dr is the square of the share of the current that flows through the branch, so

    σ² = Σ (dR/drᵢ · σᵢ)² + σ_leads² + (0.01 R)²                                                  [Ω²]

where 95 % of good values of a branch lie within r / spread … r · spread. Severity is continuous: a step of a ladder stands for
all resistances nearer to it than to its neighbours, on a logarithmic scale.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import networkx as nx
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from foible.circuit import Network
    from foible.diagnosis.shown.hypotheses import Hypotheses
    from foible.trials import Reading

__all__ = [
    "BOX_GAP",
    "SAMPLES",
    "chance_around",
    "chance_of_reading",
    "sensitivities",
    "severity_interval",
    "spread_of_port",
    "width",
]

LEADS_OHMS = 0.15
"""What the leads and an inexact zero add, give or take [Ω]; judgement, no source."""
PRECISION = 0.01
"""Relative error of a cheap meter; judgement, no source."""
SOFT_OHMS = 0.3
"""Resistance below which differences count in ohms, and above which they count as ratios [Ω]."""
BOX_GAP = (20.0, 300.0)
"""A test box's lamp certainly lights up to the first resistance, and certainly not from the second [Ω]; judgement, no source."""
SAMPLES = 32
"""Severities within a step of a ladder for which a reading is worked out, evenly on a logarithmic scale."""
HALF_STEP = 0.4
"""Standard deviation of a severity within its step, as a natural logarithm: steps are about a factor of three to four wide."""
FIRST_STEPS = 80.0
"""A resistance smaller than this is on the first step of a ladder [Ω], or as good as (judgement).

It reaches down to a twentieth of itself."""
HALF_FIRST_STEP = 1.2
"""Standard deviation of a severity within the first step of its ladder, as a natural logarithm; judgement."""
LEAST_CHANGE = 1e-3
"""A failure that changes a reading by less does not change it [Ω]."""
LEAST_SLOPE = 0.2
"""A port that sees less of a severity than this share says nothing about it."""
FULL_SCALE = math.log((1e7 + SOFT_OHMS) / SOFT_OHMS)
"""Width of all that a meter can show, on the scale of `_scaled`."""


def sensitivities(network: Network, source: str, sink: str) -> dict[str, float]:
    """Return dR/dr of the resistance between two nodes for every branch: the square of the share of the current in it.

    Open branches and branches that no current reaches have 0.
    """
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    graph.add_edges_from((b.a, b.b) for b in network.branches if math.isfinite(b.ohms) and b.a != b.b)
    if source not in graph or sink not in graph or not nx.has_path(graph, source, sink):
        return {}
    reached = nx.node_connected_component(graph, source) - {sink}
    index = {node: i for i, node in enumerate(sorted(reached))}
    branches = [b for b in network.branches if math.isfinite(b.ohms) and (b.a in index or b.b in index)]
    laplacian = np.zeros((len(index), len(index)))
    for b in branches:
        ends = [index[node] for node in (b.a, b.b) if node in index]
        laplacian[ends, ends] += 1 / b.ohms
        if len(ends) == 2:  # noqa: PLR2004 — both ends off the sink
            laplacian[ends, ends[::-1]] -= 1 / b.ohms
    current = np.zeros(len(index))
    current[index[source]] = 1.0
    volts = np.linalg.solve(laplacian, current)
    at = {node: float(volts[i]) for node, i in index.items()} | {sink: 0.0}
    return {b.name: ((at[b.a] - at[b.b]) / b.ohms) ** 2 for b in branches if b.a != b.b}


def spread_of_port(network: Network, spreads: Mapping[str, float], source: str, sink: str) -> tuple[float, float]:
    """Return what good parts add to the nominal resistance between two nodes: on average, and as standard deviation [Ω].

    A log-normal part of nominal value r and σ = ln(spread) / 1.96 has the mean r e^(σ²/2) and the standard deviation
    r e^(σ²/2) √(e^(σ²) − 1). Meter and leads are not in it.
    """
    ohms = {branch.name: branch.ohms for branch in network.branches}
    mean, variance = 0.0, 0.0
    for name, slope in sensitivities(network, source, sink).items():
        square = (math.log(spreads.get(name, 1.0)) / 1.96) ** 2
        lift = math.exp(square / 2)
        mean += slope * ohms[name] * (lift - 1)
        variance += (slope * ohms[name] * lift) ** 2 * math.expm1(square)
    return mean, math.sqrt(variance)


def chance_of_reading(
    reading: Reading, ohms: NDArray[np.float64], sound: float, spread: tuple[float, float], hypotheses: Hypotheses
) -> tuple[NDArray[np.float64], float]:
    """Return the probability of a steady reading with each failure there, shape (N, `SAMPLES`), and with sound kit.

    `ohms`: the port under every hypothesis, shape (N,) [Ω]; `sound`: with sound kit; `spread`: what `spread_of_port` gives [Ω].
    The columns are severities within a hypothesis' step, so that several readings of one failure can be taken together.
    """
    low, high = hypotheses.step_edges
    with np.errstate(invalid="ignore"):
        added = ohms - sound
    series = np.flatnonzero(np.isfinite(ohms) & (added > LEAST_CHANGE) & (high > low))
    there = np.repeat(_inside(reading, ohms, spread)[:, None], SAMPLES, axis=1)
    quantiles = (np.arange(SAMPLES) + 0.5) / SAMPLES
    width_of_step = np.log(high[series] / low[series])
    severity = low[series, None] * np.exp(quantiles * width_of_step[:, None])
    values = sound + added[series, None] * severity / hypotheses.ohms[series, None]
    there[series] = _inside(reading, values, spread, blur=width_of_step[:, None] / SAMPLES / 2)
    return there, float(_inside(reading, np.array([sound]), spread)[0])


def chance_around(reading: Reading, ohms: NDArray[np.float64], sound: float, spread: tuple[float, float]) -> NDArray[np.float64]:
    """Return the probability of a steady reading on each resistance, shape (R,), what exceeds sound kit spread over a step."""
    finite = np.where(np.isfinite(ohms), ohms, 1.0)
    excess = np.clip(1 - sound / np.maximum(finite, 1e-9), 0.0, 1.0) if np.isfinite(sound) else np.ones_like(finite)
    first_step = finite - (sound if np.isfinite(sound) else 0.0) < FIRST_STEPS
    return _inside(reading, ohms, spread, blur=np.where(first_step, HALF_FIRST_STEP, HALF_STEP) * excess)


def _inside(
    reading: Reading,
    ohms: NDArray[np.float64],
    spread: tuple[float, float],
    *,
    blur: NDArray[np.float64] | float = 0.0,
) -> NDArray[np.float64]:
    """Return the probability that a meter on each resistance shows something within the reading.

    `blur` is half the distance to the next sample of severity, as a ratio: it fills the gaps between samples.
    """
    finite = np.where(np.isfinite(ohms), ohms + spread[0], 0.0)
    sigma = np.sqrt(spread[1] ** 2 + LEADS_OHMS**2 + (PRECISION * finite) ** 2 + (blur * finite) ** 2) / (finite + SOFT_OHMS)
    middle = _scaled(finite)
    chance = _normal((_scaled(np.asarray(reading.high)) - middle) / sigma)
    chance = chance - _normal((_scaled(np.asarray(reading.low)) - middle) / sigma) * (reading.low > 0)
    return np.where(np.isfinite(ohms), np.maximum(chance, 0.0), reading.told_open * math.isinf(reading.high))


def severity_interval(
    seen: Sequence[tuple[Reading, float, float, tuple[float, float]]],
) -> tuple[float, float] | None:
    """Return between which resistances a failure in series lies with 90 %, given what meters read [Ω].

    `seen`: for every steady reading the reading, the port with sound kit [Ω], how much of the severity the port sees (1 in
    series), and `spread_of_port`. Every severity from 0.1 Ω to 10 kΩ is taken as equally likely on a logarithmic scale before.
    None where no reading says anything, or none fits.
    """
    grid = np.logspace(-1, 4, 600)
    weight = np.ones_like(grid)
    for reading, sound, slope, spread in seen:
        if math.isfinite(reading.high) and slope > LEAST_SLOPE:
            weight = weight * _inside(reading, sound + slope * grid, spread)
    if np.all(weight == 1) or weight.sum() <= 0:
        return None
    share = np.cumsum(weight) / weight.sum()
    low, high = (min(int(np.searchsorted(share, quantile)), len(grid) - 1) for quantile in (0.05, 0.95))
    return float(grid[low]), float(grid[high])


def width(reading: Reading) -> float:
    """Return the share of all that a meter can show that a reading covers."""
    top = 1e7 if math.isinf(reading.high) else reading.high
    low = float(_scaled(np.asarray(reading.low)))
    return max((float(_scaled(np.asarray(top))) - low) / FULL_SCALE, 1e-4)


def _scaled(ohms: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.log((ohms + SOFT_OHMS) / SOFT_OHMS))


def _normal(z: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the normal distribution function (Abramowitz & Stegun 7.1.26 by way of erf, error below 1.5e-7)."""
    x = np.abs(z) / math.sqrt(2)
    t = 1 / (1 + 0.3275911 * x)
    poly = t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))))
    half = 0.5 * (1 - poly * np.exp(-x * x))
    return np.asarray(0.5 + np.sign(z) * half)
