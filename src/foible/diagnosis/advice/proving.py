"""The trials of a case in; out, what is done again once something was put right, and whether that has passed."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from foible.diagnosis.advice.exchange import repeated
from foible.situation import Mode

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    import numpy as np
    from numpy.typing import NDArray

    from foible.diagnosis.advice.aims import Aim
    from foible.diagnosis.advice.outcomes import Experiment, OutcomeTables
    from foible.trials import Idea, Trial

__all__ = ["Proving"]

AGAIN = 3
"""How often what provoked a fault is done again to prove that it is gone; judgement, no source."""
TWICE = 2
"""How often what provoked a fault passes with another item before the exchange counts; a third time tells little; judgement."""
BROUGHT_OUT = 0.3
"""An item this probable is exchanged next where moving it has just brought the fault out; judgement, no source."""
FAILS = ("fails",)
GAUGED = 0.9
"""What is this probable is mended once a gauge has failed twice; judgement, no source."""


class Proving:
    """Finds what failed in the trials of a case.

    `ground`: what works tables out, a hypothesis by position for each kind, and the trials by what is done in them; `prior`: of
    each kind, shape (K,).
    """

    def __init__(
        self, ground: tuple[OutcomeTables, NDArray[np.intp], Mapping[Trial, Idea]], prior: NDArray[np.float64], mode: Mode
    ) -> None:
        self._outcome_tables, self._chosen, self._says = ground
        self._prior, self._mode = prior, mode

    def shown(self, made: Sequence[Trial]) -> Trial | None:
        """Return the trial that showed the fault, the strip whole where it showed it so; None where none did."""
        whole = [trial for trial in made if not (trial.arrangement.unplugged or trial.arrangement.bridged)]
        return self._outcome_tables.showing(whole) or self._outcome_tables.showing(made)

    def failed(self, made: Sequence[Trial]) -> tuple[Experiment, int] | None:
        """Return the test that failed, and how often it is to be made again: a fault that came and went may hide once."""
        tested = [trial for trial in made if trial.found == FAILS or trial.reads]
        shown = tested[-1] if tested else self.shown(made)
        looked = [trial for trial in made if trial.examine and trial.found != ("fine",)]
        if shown is None and not looked:
            return None
        shown = shown or looked[-1]
        idea = repeated(self._outcome_tables.setup, shown, self._says)
        if self._mode is Mode.BENCH and idea.item is None and not (shown.meter or shown.box or shown.gauge or shown.examine):
            idea = replace(idea, say=f"back on the strip: {idea.say}")
        experiment = self._outcome_tables.experiment(idea, self._chosen, self._prior)
        return experiment, AGAIN if shown.unsteady or shown.moves else 1

    def after(self, made: Sequence[Trial]) -> tuple[Idea | None, bool]:
        """Return the test that failed before something was put right and is to pass yet, and whether it has passed since."""
        acted = [number for number, trial in enumerate(made) if trial.acts]
        failed = self.failed(made[: acted[-1]]) if acted else None
        since = made[acted[-1] + 1 :] if acted else ()
        if failed is None or self._outcome_tables.showing(since) is not None:
            return None, False
        experiment, again = failed
        test = experiment.idea.trial
        passed = sum(trial.times for trial in since if trial.with_own_kit() == test)
        return (experiment.idea, False) if passed < again else (None, True)

    def passed_with(self, item: str, made: Sequence[Trial]) -> bool:
        """Return whether the last trial was made with another item in the place of `item`, and did not show the fault."""
        return bool(made) and item in made[-1].swapped and self._outcome_tables.showing(made[-1:]) is None

    def brought_out(self, item: str, made: Sequence[Trial]) -> bool:
        """Return whether the fault has just shown while an item was moved, and had not in the same trial without the movement."""
        last = made[-1] if made else None
        if last is None or last.hearsay or item in last.swapped or not self._moves(item, last):
            return False
        still = replace(last.unseen(), moves=())
        without = [trial for trial in made if trial.unseen() == still and not trial.hearsay]
        showing = self._outcome_tables.showing
        return bool(without) and showing(without) is None and showing(made[-1:]) is not None

    def follows(self, item: str, made: Sequence[Trial]) -> bool:
        """Return whether the fault came with moving an item and did not come with another one in its place.

        The last trial passed with another item; the same trial showed the fault with the fencer's own, and did not without the
        movement.
        """
        last = made[-1].unseen().with_own_kit()
        earlier = (number for number, trial in enumerate(made) if trial.unseen().with_own_kit() == last)
        return self.passed_with(item, made) and any(self.brought_out(item, made[: number + 1]) for number in earlier)

    def moved(self, aims: Iterable[tuple[Aim, float]], made: Sequence[Trial]) -> Aim | None:
        """Return the likeliest of `aims`, each with its probability, which was moved when the fault has just been brought out."""
        likely = (aim for aim, share in aims if share >= BROUGHT_OUT)
        return next((aim for aim in likely if self.brought_out(aim.item, made)), None)

    def _moves(self, item: str, trial: Trial) -> bool:
        movements = self._outcome_tables.setup.movements
        return item in {movements[move] for move in trial.moves if move in movements}

    def repeats(self, made: Sequence[Trial]) -> Idea | None:
        """Return the last trial to be made again, if it does what showed a fault that comes and goes: once is not enough."""
        last = made[-1].unseen()
        shown = self.shown([trial for trial in made if not trial.swapped])
        if shown is None or not (shown.unsteady or shown.moves) or last.with_own_kit() != shown.with_own_kit():
            return None
        passed = sum(trial.times for trial in made if trial.unseen() == last)
        return repeated(self._outcome_tables.setup, last, self._says) if passed < TWICE else None

    def once_more(self, made: Sequence[Trial]) -> Idea | None:
        """Return the gauge that has just failed on the bench for the first time: nothing is taken apart before it fails again.

        At the piste nothing is taken apart: the weapon is exchanged.
        """
        return None if self._failed_twice(made) or not self._fails(made) else self._says.get(made[-1].unseen())

    def _failed_twice(self, made: Sequence[Trial]) -> bool:
        """Return whether the gauge that has just failed on the bench had failed before, with nothing mended since."""
        return self._fails(made) and any(trial.unseen() == made[-1].unseen() and trial.found == FAILS for trial in made[:-1])

    def gauged(self, made: Sequence[Trial], chance: float) -> bool:
        """Return whether a gauge that has failed twice leaves nothing more to try of what is right with `chance`."""
        return self._failed_twice(made) and chance >= GAUGED

    def _fails(self, made: Sequence[Trial]) -> bool:
        return self._mode is Mode.BENCH and bool(made) and made[-1].found == FAILS and not made[-1].mended
