"""The kept cases: a file of complaints with what is wrong, by the names of the kit files, whatever program plays them.

A line is a case: weapon, complaint, and each fault as “failure | severity in Ω | how it behaves”, with tabs between them. They
were drawn from the state before faults had a readiness of their own (commit 682c21f), and behave as they did there: `Before`.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from benchmarks.accuracy.cases import Cases, told
from benchmarks.accuracy.faults import Fault, listed
from benchmarks.accuracy.networks import Networks
from foible.apparatus import load_profile
from foible.diagnosis.shown.hypotheses import Activity
from foible.kit import WHOLE_SIDE

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from foible.kit import Setup
    from foible.trials import Trial

__all__ = ["CASES", "SEED", "Before", "KeptCase", "kept_cases", "line", "networked"]

CASES = Path(__file__).with_name("cases.txt")
SEED = 2026
IDLE = {Activity.STEADY: 1.0, Activity.OFTEN: 0.8, Activity.SELDOM: 0.15}
"""Chance that a fault shows in a trial that does nothing to provoke it; commit 682c21f, judgement."""
STIRRED = {Activity.STEADY: 1.0, Activity.OFTEN: 0.9, Activity.SELDOM: 0.5}
"""The same while the fencer moves about as in a bout; commit 682c21f, judgement."""
UNSTEADY = 0.7
"""Share of the times in which a fault that comes and goes does so within one trial; commit 682c21f, judgement."""


@dataclass(frozen=True)
class KeptCase:
    """One line of the file."""

    weapon: str
    complaint: str
    faults: tuple[tuple[str, float, Activity], ...]
    """Each with the failure's name, its severity [Ω] and how it behaves."""


class Before:
    """A fault that behaves as faults did before: no memory, and every trial draws anew."""

    def __init__(self, setup: Setup, fault: Fault) -> None:
        self._part, self._activity = setup.parts[fault.part], fault.activity
        self._side = setup.items[fault.item].side

    def shows(self, trial: Trial) -> tuple[float, float]:
        """Return the chance that it shows in a trial, and the share of those times in which it comes and goes."""
        chance = IDLE[self._activity]
        for move in trial.moves:
            verb, _, side = move.partition(" ")
            if verb == WHOLE_SIDE and side == self._side:
                chance = max(chance, STIRRED[self._activity])
            chance = max(chance, self._part.moved_by.get(move, 0.0))
        held = max((self._part.held_by.get(move, 0.0) for move in trial.moves), default=0.0)
        return chance * (1 - held), 0.0 if self._activity is Activity.STEADY else UNSTEADY


def kept_cases(path: Path = CASES) -> list[KeptCase]:
    """Return the cases of a file."""
    found = []
    for text in path.read_text(encoding="utf-8").splitlines():
        weapon, complaint, *faults = text.split("\t")
        split = [fault.split(" | ") for fault in faults]
        found.append(
            KeptCase(weapon, complaint, tuple((name, float(ohms), Activity[word.upper()]) for name, ohms, word in split))
        )
    return found


def line(weapon: str, complaint: str, faults: Iterable[Fault]) -> str:
    """Return a case as a line of the file."""
    said = [f"{fault.name} | {fault.ohms:g} | {fault.activity.name.lower()}" for fault in faults]
    return "\t".join((weapon, complaint, *said))


def networked(setup: Setup, kept: Sequence[KeptCase]) -> Cases:
    """Return cases of one weapon, ready to be played."""
    faults = [tuple(listed(setup, setup.failures[name], ohms, how) for name, ohms, how in case.faults) for case in kept]
    by_words = {entry.complaint.say: entry for entry in told(setup)}
    entries = tuple(by_words[case.complaint] for case in kept)
    ready = tuple(tuple(Before(setup, fault) for fault in each) for each in faults)
    networks = Networks(setup, load_profile(setup.profile), faults, SEED)
    return Cases(networks, entries, tuple(entry.trial for entry in entries), ready)
