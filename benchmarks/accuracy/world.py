"""The worlds of the study: how each differs from what the program assumes."""

from __future__ import annotations

from dataclasses import dataclass

from benchmarks.accuracy.readiness import Anew, AsModel, Curing

__all__ = ["WORLDS", "World", "world_named"]


@dataclass(frozen=True)
class World:
    """How a simulated world differs from the program's own; the usual values are the program's own."""

    name: str
    words: str
    rates: float = 1.0
    """Rates of failures are off by up to this factor either way."""
    misread: float = 0.02
    two: float = 0.04
    spread: float = 1.0
    """Good parts vary by their spread to this power."""
    between: bool = False
    """Severities lie anywhere between the steps of their ladder."""
    thresholds: bool = False
    """Each apparatus has one threshold somewhere in the gap that the rule leaves, rather than a chance."""
    nothing: float | None = None
    """Share of complaints with nothing wrong, whatever is said; None: as the complaints' own file says of each."""
    readiness: type[AsModel | Anew | Curing] = AsModel
    """How faults show."""
    piste: bool = True
    """Whether a metal piste lies on the floor; where not, nobody tells the program."""
    expecting: float = 0.0
    """Share of trials in which the person reports what the leading suspect would show."""
    unlisted: float = 0.0
    """Share of faults that no kit file knows."""


WORLDS = (
    World("own", "the program's own world"),
    World("nothing", "nothing wrong in a fifth of the cases, whatever is complained of", nothing=0.2),
    World("anew", "how faults show under each handling drawn anew", readiness=Anew),
    World("cures", "a movement cures the fault for a while", readiness=Curing),
    World("floor", "no metal piste in the hall", piste=False),
    World("expecting", "in one trial of thirty the leading suspect is reported", expecting=1 / 30),
    World("unlisted", "a tenth of the faults unknown to the kit files", unlisted=0.1),
    World("rates", "rates of failures off by up to 4 × either way", rates=4.0),
    World("misread", "lamps misread twice as often", misread=0.04),
    World("spread", "good parts vary twice as widely, severities lie between the steps", spread=2.0, between=True),
    World("thresholds", "each apparatus with its own threshold in the rule's gap", thresholds=True),
    World("two", "two failures at once five times as often", two=0.20),
    World("five", "the five above together", rates=4.0, misread=0.04, spread=2.0, between=True, thresholds=True, two=0.20),
)


def world_named(name: str) -> World:
    """Return a world by its name. Raises StopIteration where there is none."""
    return next(world for world in WORLDS if world.name == name)
