"""`python -m benchmarks.learning` simulates clubs and says what their own repairs are worth; writes docs/learning.json.

A quarter of an hour on one core; the same seed gives the same figures. `--clubs`, `--cases`: fewer of them, to try it out.
"""

from __future__ import annotations

import argparse
import json
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from benchmarks.learning.after_complaint import Findings, Worth, cases_of, worth
from benchmarks.learning.clubs import Club, clubs, clubs_as_believed
from benchmarks.learning.page import FIGURES, keep
from foible.kit import load_setup
from foible.services.reasoning import Reasoning

if TYPE_CHECKING:
    from collections.abc import Callable

    from foible.diagnosis import Rates
    from foible.kit import Setup

WEAPONS = ("foil", "épée", "sabre")
WORLDS = ("4 ×", "to 4 ×", "ordinary")
JOBS = (3, 30, 100, 300)
DOCS = Path(__file__).parents[2] / "docs"
POOLED = ("4 ×", "to 4 ×")
AS_BELIEVED = 200
"""Clubs for each weapon that are drawn from what is believed beforehand; they cost nothing, since no case is reasoned."""
BOOTSTRAPS = 2000
SURE = (0.05, 0.95)


def of_club(club: Club, reasoning: Reasoning, usual: Findings, count: int) -> dict[str, Any]:
    """Return what a club's rates are worth: known exactly, as published, and learned from some jobs."""
    known = club.known().rates(club.setup)
    true, cases = Findings(reasoning.taught(lambda _: known), club.setup), cases_of(club, count)
    found: dict[str, Any] = {"usual": worth(usual, true, cases), "known": worth(true, true, cases)}
    for jobs in JOBS:
        learned = club.after(jobs)
        found[str(jobs)] = worth(Findings(reasoning.taught(_always(learned.rates(club.setup))), club.setup), true, cases)
    return found | held(club)


def held(club: Club) -> dict[str, float | None]:
    """Return the share of a club's failures whose interval holds the truth: of all, and of those to be expected once or more."""
    found: dict[str, float | None] = {}
    for jobs in JOBS:
        learned = club.after(jobs).learned
        low, high = learned.interval()
        holds = (low <= club.ratio) & (club.ratio <= high)
        found[f"held {jobs}"] = float(holds.mean())
        often = learned.expected >= 1
        found[f"held often {jobs}"] = float(holds[often].mean()) if often.any() else None
    return found


def _always(rates: Rates) -> Callable[[Setup], Rates]:
    return lambda _: rates


def summed(runs: list[dict[str, Any]], seed: int) -> dict[str, Any]:
    """Return the figures of the clubs of one world, with intervals of 90 % over clubs."""
    rng = np.random.default_rng(seed)
    table = {name: np.array([_figures(run[name]) for run in runs]) for name in ("usual", "known", *map(str, JOBS))}
    again = rng.integers(len(runs), size=(BOOTSTRAPS, len(runs)))
    figures: dict[str, Any] = {"clubs": len(runs)}
    for place, name in enumerate(("log score", "piste s", "bench s", "cost s")):
        usual, known = table["usual"][:, place], table["known"][:, place]
        own: dict[str, Any] = {"usual": float(usual.mean()), "known": float(known.mean())}
        for jobs in map(str, JOBS):
            after = table[jobs][:, place]
            own[jobs] = {
                "mean": float(after.mean()),
                "of the gain": _ratio(after - usual, known - usual, again),
                "against usual": _ratio(after - usual, np.abs(usual), again),
            }
        figures[name] = own
    return figures | summed_held(runs)


def summed_held(runs: list[dict[str, Any]]) -> dict[str, Any]:
    """Return how often the intervals of clubs held the truth: of all failures, and of those to be expected once or more."""
    figures = {}
    for count in JOBS:
        often = [run[f"held often {count}"] for run in runs if run[f"held often {count}"] is not None]
        every = float(np.mean([run[f"held {count}"] for run in runs]))
        figures[f"held {count}"] = [every, float(np.mean(often)) if often else None]
    return figures


def _figures(found: Worth) -> tuple[float, ...]:
    return (*found, found.piste_s + found.bench_s)


def _ratio(part: np.ndarray, whole: np.ndarray, again: np.ndarray) -> list[float] | None:
    """Return the ratio of two sums over clubs, and its interval by drawing clubs again; None where the whole is nothing."""
    if abs(float(whole.sum())) < 1e-6:  # noqa: PLR2004 — an ordinary club has nothing to gain
        return None
    drawn = part[again].sum(axis=1) / whole[again].sum(axis=1)
    return [float(part.sum() / whole.sum()), *np.quantile(drawn, SURE).tolist()]


def main() -> None:
    """Measure, keep the figures, write the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clubs", type=int, default=24, help="for each weapon and world")
    parser.add_argument("--cases", type=int, default=300, help="complaints for each club")
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--render", action="store_true", help="write the table from the figures kept")
    given = parser.parse_args()
    if given.render:
        keep(json.loads((DOCS / FIGURES).read_text(encoding="utf-8")), DOCS)
        return
    started, reasoning = time.perf_counter(), Reasoning()
    figures: dict[str, Any] = {}
    together: dict[str, list[dict[str, Any]]] = {world: [] for world in WORLDS}
    for weapon in WEAPONS:
        setup = load_setup(weapon)
        usual = Findings(reasoning, setup)
        for world in WORLDS:
            made = clubs(setup, given.clubs, given.seed, world)
            runs = [of_club(club, reasoning, usual, given.cases) for club in made]
            together[world] += runs
            figures.setdefault(weapon, {})[world] = summed(runs, given.seed)
            print(f"{time.perf_counter() - started:6.0f} s  {weapon}, {world}", flush=True)
        figures[weapon]["as believed"] = summed_held([held(club) for club in clubs_as_believed(setup, AS_BELIEVED, given.seed)])
    pooled = {world: summed(together[world], given.seed) for world in POOLED}
    minutes = round((time.perf_counter() - started) / 60)
    told = {"cases": given.cases, "seed": given.seed, "minutes": minutes, "as believed": AS_BELIEVED}
    keep(told | {"weapons": figures, "pooled": pooled}, DOCS)


if __name__ == "__main__":
    main()
