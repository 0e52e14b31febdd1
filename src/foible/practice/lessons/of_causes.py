"""Questions that go back from what was seen: which of these could cause it, and which of them does it exclude."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, cast

from foible.errors import ImpossibleTrialError
from foible.practice.lessons.marker import Marker, because_of_lamps, failures_of, ohms_words, seen_words
from foible.practice.lessons.situation import LeftOpenError

if TYPE_CHECKING:
    from collections.abc import Hashable

    from foible.kit import Failure
    from foible.practice.lessons.situation import Situation

__all__ = ["CauseMarker", "ExcludesMarker"]

CAN, CANNOT = 0.95, 0.05
"""From which probability on a failure can show what was seen, and up to which it cannot."""


class CauseMarker(Marker):
    """Asks which of these could cause it, a single steady failure of it being all that is wrong."""

    key = "of"

    def read(self, given: object) -> tuple[str, tuple[Failure, ...]]:
        """Return what a choice names, with the failures that it covers."""
        name, failures = failures_of(self.situation, str(given))
        if not failures:
            raise ImpossibleTrialError(seen=f"the kit knows nothing that fails at “{name}”", remedy="name another part")
        return name, failures

    def words(self, answer: Hashable) -> str:
        """Return the name."""
        return cast("tuple[str, tuple[Failure, ...]]", answer)[0]

    def right(self, answer: Hashable) -> bool:
        """Return whether some failure of it shows just this."""
        return self._could(answer)

    def because(self, answer: Hashable) -> str:
        """Return what would be seen with it."""
        best = self._likeliest(answer)
        could = self.situation.chance_of_this(best) >= CAN
        lead = f"{best.id}: that {'would show just this' if could else 'would show something else'}."
        if best.item in self.situation.trial.swapped:
            return f"The {best.item} was exchanged in this trial, and what was seen stayed: so nothing of it can be the cause."
        made = [(best, best.usual_ohms)]
        trial = self.situation.trial
        if trial.meter:
            ohms = self.situation.ohms_between(self.situation.meter_nodes, made)
            return f"{lead} The meter would read {ohms_words(ohms)}."
        if trial.box:
            shown = (f"{pair} {ohms_words(ohms)}" for pair, ohms in self.situation.box_ohms(made).items())
            return f"{lead} Each lamp of the box sees: {', '.join(shown)}."
        if trial.gauge:
            return f"{lead} It fails the {trial.gauge[1]} about {round(10 * best.gauges.get(trial.gauge[1], 0))} times in 10."
        return f"{lead} {because_of_lamps(self.situation, made)}"

    def shown_by(self, answer: Hashable) -> Situation:
        """Return the situation with the failure that somebody named who was right."""
        return replace(self.situation, failures=(self._likeliest(answer),))

    def _likeliest(self, answer: Hashable) -> Failure:
        failures = cast("tuple[str, tuple[Failure, ...]]", answer)[1]
        return max(failures, key=self.situation.chance_of_this)

    def check(self) -> None:
        """Refuse a situation of which nobody can say what is seen."""
        _ = seen_words(self.situation)

    def _could(self, answer: Hashable) -> bool:
        name, failures = cast("tuple[str, tuple[Failure, ...]]", answer)
        best = 0.0
        for failure in failures:
            best = max(best, self.situation.chance_of_this(failure))
            if best >= CAN:
                return True
        if best > CANNOT:
            seen = f"it is left open whether “{name}” shows this ({best:.0%})"
            raise LeftOpenError(seen=seen, remedy="name a failure with a certain answer")
        return False


class ExcludesMarker(CauseMarker):
    """Asks which of these it excludes, as a steady failure and the only one."""

    def right(self, answer: Hashable) -> bool:
        """Return whether no failure of it could show this."""
        return not self._could(answer)

    def shown_by(self, answer: Hashable) -> Situation:  # noqa: ARG002 — what is excluded shows something else
        """Return the situation of the question."""
        return self.situation
