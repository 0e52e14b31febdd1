"""The whole program, asked as its pages ask it: trials as a case file writes them in, its first advice or its ending out.

Runs with this checkout's program and with that of earlier ones, which named an item where today's names an ending.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from foible.kit import load_setup
from foible.services.reasoning import Reasoning
from foible.services.verdict import verdict_of
from foible.trials import CaseTable, TrialTable, made_case

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.kit import Failure
    from foible.services.verdict import Diagnosis
    from foible.trials import Case

__all__ = ["NOTHING_WRONG", "Deed", "Program", "Said"]

NOTHING_WRONG = "nothing wrong"
EXCHANGE = "exchange"
HISTORIES = 40_000
"""Histories of a weapon whose answer stays in memory, a few kB each."""


@dataclass(frozen=True)
class Deed:
    """One thing that the program would have done at the end."""

    kind: str
    item: str = ""
    repair: str = ""
    parts: frozenset[str] = frozenset()

    @property
    def done(self) -> str:
        """The repair, or the item that is exchanged; "" where nothing is done at the piste."""
        return self.repair or (self.item if self.kind == EXCHANGE else "")


@dataclass(frozen=True)
class Said:
    """What the program says after some trials."""

    deeds: tuple[Deed, ...]
    """How the case would end now."""
    chance: float
    """The stated probability that this puts everything right."""
    first: str
    """The item that is most suspected, or “nothing wrong”, or “something this model does not know”."""
    stated: float
    """Its probability."""
    suspect: tuple[Failure, float] | None
    """The leading suspect with its severity [Ω]."""
    table: TrialTable | None
    """The trial to make next; None where it is time to act."""
    say: str = ""
    done: bool = False
    """Whether all of the ending was carried out, and what failed has passed since."""


class Program:
    """The program for one weapon; what it says after the same history is worked out once."""

    def __init__(self, weapon: str) -> None:
        self.weapon = weapon
        self.setup = load_setup(weapon)
        self._reasoning = Reasoning()
        self._known: dict[str, Said] = {}

    def case(self, complaint: str, trials: Sequence[TrialTable]) -> Case:
        """Return a case with some trials."""
        return made_case(CaseTable(weapon=self.weapon, complaint=complaint, trial=tuple(trials)))

    def says(self, complaint: str, trials: Sequence[TrialTable]) -> Said:
        """Return what the program says after a complaint and some trials, the first of which is what it tells of."""
        key = "|".join((complaint, *(trial.model_dump_json(exclude_defaults=True) for trial in trials)))
        if key not in self._known:
            if len(self._known) > HISTORIES:
                self._known.clear()
            self._known[key] = _said(self._reasoning.diagnose(self.case(complaint, trials)))
        return self._known[key]


def _said(diagnosis: Diagnosis) -> Said:
    act = verdict_of(diagnosis, 0, misread=(), alike=()).act
    top = diagnosis.finding.belief.by_item()[0]
    suspects = diagnosis.finding.suspects
    stops = (act is not None and act.now) or not diagnosis.advice
    idea = None if stops else diagnosis.advice[0].idea
    return Said(
        *_ending(diagnosis),
        first=top.name,
        stated=min(top.probability, 1.0),
        suspect=(suspects[0].failure, suspects[0].ohms) if suspects else None,
        table=idea.table if idea else None,
        say=idea.say if idea else "",
        done=hasattr(diagnosis, "ending") and diagnosis.ending.done,
    )


def _ending(diagnosis: Any) -> tuple[tuple[Deed, ...], float]:  # noqa: ANN401 — today's or that of an earlier checkout
    """Return how the case would end now; earlier programs named one aim, an item."""
    if hasattr(diagnosis, "ending"):
        acts = diagnosis.ending.acts
        return tuple(Deed(act.kind.value, act.item, act.repair, act.parts) for act in acts), min(diagnosis.ending.chance, 1.0)
    aim, chance = diagnosis.decision.aims[0]
    known = aim.name in diagnosis.case.setup.items
    return (Deed(EXCHANGE, aim.name) if known else Deed(aim.name),), min(chance, 1.0)
