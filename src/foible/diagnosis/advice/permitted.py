"""The trials of a case in; out, what is not to be made again, and what is not to be made before somebody has looked."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from foible.kit import WHOLE_SIDE, other
from foible.trials import Trial

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.shown.hypotheses import Hypotheses
    from foible.kit import Failure
    from foible.trials import Idea

__all__ = [
    "Repeats",
    "blades",
    "fenced_on",
    "loose_seats",
    "of_other",
    "only_told",
    "provoked",
    "rests",
    "seen_to_injure",
    "sign_of",
    "unsafe_weapons",
    "uses",
]

FINE = ("fine",)
TOLD = 2
"""How often a trial is made in which something is pressed or moved; judgement, no source. One look at what lies still is enough
where its answer was steady."""
UNSAFE = 0.03
"""A weapon that is broken with this probability is looked at before anybody hits with it; judgement, no source."""
NOT_HOME = 0.03
"""A plug that is not pushed home with this probability is looked at before it is drawn; judgement, no source."""


def unsafe_weapons(hypotheses: Hypotheses, weight: NDArray[np.float64], made: Sequence[Trial]) -> set[str]:
    """Return the weapons that may be broken and that nobody has looked at; `weight` of the hypotheses, shape (N,)."""
    looked = {part for trial in made for part in trial.examine}
    chance: dict[str, float] = {}
    for number, failure in enumerate(hypotheses.failures):
        if failure.out_of_use and failure.part not in looked:
            chance[failure.item] = chance.get(failure.item, 0.0) + float(weight[hypotheses.failure == number].sum())
    return {item for item, share in chance.items() if share >= UNSAFE}


def seen_to_injure(failures: Iterable[Failure], trial: Trial) -> Failure | None:
    """Return the failure that can injure whose sign the eye found in a trial, at the part that has it; None without one."""
    return next((each for each in failures if each.out_of_use and each.seen(trial.examine, trial.found)), None)


def sign_of(job: str, failures: Iterable[Failure], trial: Trial) -> bool:
    """Return whether the eye found in a trial a sign of what a repair, “item: repair”, puts right."""
    return any(each.job == job and each.seen(trial.examine, trial.found) for each in failures)


def rests(trial: Trial) -> bool:
    """Return whether a trial does nothing but look at the strip at rest. Whoever provokes a fault sees that on the way."""
    return _rests(trial.unseen())


def _rests(unseen: Trial) -> bool:
    return unseen == Trial(swapped=unseen.swapped, mended=unseen.mended)


def uses(trial: Trial, weapons: Collection[str]) -> bool:
    """Return whether a trial hits with one of some weapons, or bends or beats it."""
    return any(trial.arrangement.press == item.split()[0] or any(item in move for move in trial.moves) for item in weapons)


def blades(weapons: Iterable[str]) -> set[str]:
    """Return the parts to look at to see whether weapons are whole."""
    return {f"{weapon} blade" for weapon in weapons}


def loose_seats(hypotheses: Hypotheses, weight: NDArray[np.float64], drawn: NDArray[np.bool_]) -> set[str]:
    """Return the parts to look at before their plug is drawn: whether one sat home is not to be seen once it is out.

    `weight` of the hypotheses, adding up to 1; `drawn`: those about plugs that are drawn; shape (N,) each.
    """
    shares = np.add.reduceat(np.where(drawn, weight, 0.0), hypotheses.part_starts)
    return {part for part, share in zip(hypotheses.part_names, shares.tolist(), strict=True) if share >= NOT_HOME}


def of_other(trial: Trial, about: str) -> bool:
    """Return whether a trial has the fencer hit or move of whom nobody complained; at what is hit anybody may tug."""
    hits = trial.arrangement.press
    moving = {other(about) in move.split() for move in trial.moves}
    return hits not in {None, about} or (hits is None and moving == {True})


def provoked(made: Sequence[Trial]) -> bool:
    """Return whether anybody has moved anything to bring a fault on, besides the fencer in the bout."""
    return any(trial.moves and not trial.hearsay for trial in made)


def only_told(made: Sequence[Trial]) -> Trial | None:
    """Return the hit that a fencer tells of, while nobody has made it or moved anything since; None where there is none."""
    if provoked(made):
        return None
    told = (trial.with_own_kit() for trial in made if trial.hearsay and trial.arrangement.press and not trial.moves)
    watched = [trial.with_own_kit() for trial in made if not trial.hearsay]
    return next((trial for trial in told if trial not in watched), None)


def fenced_on(trial: Trial) -> bool:
    """Return whether a fencer fenced on while others watched, and nothing else was done."""
    return bool(trial.moves) and not trial.hearsay and all(move.split()[0] == WHOLE_SIDE for move in trial.moves)


class Repeats:
    """What the trials of a case, `made`, leave nothing to tell of.

    `provoked` is whether something had to be done to show the fault; `tools` are at hand.
    """

    def __init__(self, made: Sequence[Trial], tools: Collection[str], *, provoked: bool) -> None:
        metered = made if "meter" in tools else ()  # a meter tells all that a lamp does in its place
        self._metered = {trial.arrangement.press for trial in metered if trial.meter}
        self._provoked = provoked
        self._last = made[-1] if made else None
        self._settled = {trial.unseen() for trial in made if not _failed(trial)}
        self._looked = {part for trial in made for part in trial.examine}
        self._one_of = _one_of(made)
        self._tired = _tired(made)

    def tells_nothing(self, idea: Idea, unseen: Trial) -> bool:
        """Return whether an idea, whose trial is `unseen` yet, would tell nothing new."""
        told = unseen.box and unseen.arrangement.press in self._metered
        if told or (idea.once_only and unseen in self._settled):
            return True
        which = self._one_of if idea.item is not None and len(idea.trial.examine) == 1 else frozenset[str]()
        if not (self._looked - which).isdisjoint(idea.trial.examine) or (self._provoked and _rests(unseen)):
            return True
        return bool(self._tired) and self._last is not None and _carried(unseen, self._last) in self._tired


def _failed(trial: Trial) -> bool:
    """Return whether a gauge failed the weapon, which a master tries once more before he takes it apart."""
    return trial.found == ("fails",)


def _one_of(made: Sequence[Trial]) -> frozenset[str]:
    """Return the parts of which one was found to have a sign as they were looked over together: which it is stays to be told."""
    together = {part for trial in made if len(trial.examine) > 1 and trial.found != FINE for part in trial.examine}
    return frozenset(together - {trial.examine[0] for trial in made if len(trial.examine) == 1})


def _tired(made: Sequence[Trial]) -> set[Trial]:
    """Return the trials, as they would be made, of which another look tells nothing new."""
    looks: dict[Trial, int] = {}
    for trial in made:
        still = not (trial.moves or trial.arrangement.press)
        if not trial.hearsay or still:  # what is told of a hit or a movement is worth a look of one's own
            unseen = trial.unseen()
            looks[unseen] = looks.get(unseen, 0) + (TOLD if still and not trial.unsteady and not _failed(trial) else trial.times)
    return {trial for trial, count in looks.items() if count >= TOLD}


def _carried(trial: Trial, last: Trial) -> Trial:
    """Return a trial as it would be made, with whatever the last one exchanged or mended still in place."""
    swapped = tuple(dict.fromkeys((*last.swapped, *trial.swapped)))
    return replace(trial, swapped=swapped, mended=tuple(dict.fromkeys((*last.mended, *trial.mended))))
