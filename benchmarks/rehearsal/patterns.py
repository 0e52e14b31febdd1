"""The patterns of a rehearsals file: a line of clauses in, whether a trial fulfils it out."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from foible.trials import Trial

__all__ = ["Pattern", "Step", "made", "named", "pattern"]

VERBS = ("look", "press", "cut", "touch", "move", "swap", "mend", "unplug", "bridge", "meter", "box", "gauge")


@dataclass(frozen=True)
class Step:
    """A trial as it was made, and what was exchanged or mended before it already."""

    trial: Trial
    before: Trial | None = None

    @property
    def at_rest(self) -> bool:
        """Whether nothing was done in it, whatever was exchanged or mended for it."""
        trial = self.trial
        done = trial.moves or trial.examine or trial.meter or trial.box or trial.gauge
        return not done and trial.arrangement == type(trial.arrangement)()

    @property
    def newly(self) -> tuple[str, ...]:
        """What was exchanged or mended for it."""
        trial, before = self.trial, self.before
        kept = (*before.swapped, *before.mended) if before else ()
        return tuple(name for name in (*trial.swapped, *trial.mended) if name not in kept)


@dataclass(frozen=True)
class Pattern:
    """Clauses, all of which one trial must fulfil; `times`: how often it has to be made in all."""

    text: str
    clauses: tuple[tuple[str, str], ...]
    times: int = 1

    def fits(self, step: Step) -> bool:
        """Return whether a step fulfils every clause."""
        return all(_fits(verb, rest, step) for verb, rest in self.clauses)

    def names_all_of(self, step: Step) -> bool:
        """Return whether the clauses name everything that a step does."""
        if not self.fits(step):
            return False
        trial, arranged = step.trial, step.trial.arrangement
        verbs = {verb for verb, _ in self.clauses}
        bridged = {name.rsplit(" ", 1)[0] for name in _bridged(trial)}
        done = {
            "press": bool(arranged.press),
            "touch": bool(arranged.touching),
            "move": bool(trial.moves),
            "swap": bool(trial.swapped),
            "mend": bool(trial.mended),
            "unplug": bool(set(arranged.unplugged) - bridged),
            "bridge": bool(arranged.bridged),
        }
        told = {"press" if verb == "cut" else verb for verb in verbs}
        return told - {"rest", "still", "any"} == {verb for verb, it in done.items() if it}


@cache
def pattern(text: str) -> Pattern:
    """Return the pattern that a line stands for. Raises ValueError for one that is not of the format."""
    body, times = text, 1
    if counted := re.fullmatch(r"(.*) x(\d+)", text):
        body, times = counted[1], int(counted[2])
    clauses = []
    for clause in body.split(" + "):
        verb, _, rest = (word.strip() for word in clause.partition(":"))
        if verb not in (*VERBS, "rest", "still", "any"):
            message = f"“{clause}” is no clause of a pattern"
            raise ValueError(message)
        clauses.append((verb, rest))
    return Pattern(text, tuple(clauses), times)


def made(wanted: Sequence[str], steps: Iterable[Step]) -> bool:
    """Return whether every pattern of a list was made among the steps, as often as it asks."""
    steps = list(steps)
    return all(sum(step.trial.times for step in steps if each.fits(step)) >= each.times for each in map(pattern, wanted))


def named(name: str, given: str) -> bool:
    """Return whether a pattern's name stands for a name in full."""
    return not name or given == name or given.startswith(f"{name} ")


def _any(name: str, given: Iterable[str]) -> bool:
    return any(named(name, each) for each in given)


def _pair(wanted: str, given: tuple[str, str]) -> bool:
    first, mark, second = (part.strip() for part in wanted.partition("|"))
    if not mark:
        return _any(first, given)
    a, b = given
    return (named(first, a) and named(second, b)) or (named(first, b) and named(second, a))


def _bridged(trial: Trial) -> list[str]:
    return [f"{plug} {a}-{b}" for plug, a, b in trial.arrangement.bridged]


def _hit(rest: str, trial: Trial) -> bool:
    side, mark, place = rest.partition(" on ")
    arranged = trial.arrangement
    if not arranged.press or not named(side, arranged.press):
        return False
    if not mark:
        return True
    return arranged.on is None if place == "nothing" else arranged.on is not None and named(place, arranged.on)


def _fits(verb: str, rest: str, step: Step) -> bool:  # noqa: PLR0911 — one line for each verb
    trial = step.trial
    match verb:
        case "any":
            return True
        case "still":
            return step.at_rest
        case "rest":
            return step.at_rest and not step.newly
        case "press" | "cut":
            return _hit(rest, trial)
        case "touch":
            return any(_pair(rest, pair) for pair in trial.arrangement.touching)
        case "meter":
            return trial.meter is not None and _pair(rest, trial.meter)
        case "box":
            return trial.box is not None and named(rest, trial.box)
        case "gauge":
            return trial.gauge is not None and named(rest, " ".join(trial.gauge))
        case "bridge":
            return _any(rest, _bridged(trial))
        case _:
            given = {
                "look": trial.examine,
                "move": trial.moves,
                "swap": trial.swapped,
                "mend": trial.mended,
                "unplug": trial.arrangement.unplugged if not (trial.meter or trial.box) else (),
            }
            return _any(rest, given[verb])
