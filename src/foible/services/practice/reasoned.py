"""An attempt in; out, what this program would have known after each of its trials, and what it would have tried next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.diagnosis import SOUND
from foible.practice import NOTHING_WRONG, Level
from foible.services.acting import act_of
from foible.situation import TOOLS, Mode, Situation
from foible.trials import CaseTable, TrialTable, made_case

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.practice import Attempt, Hidden
    from foible.services.reasoning import Reasoning
    from foible.services.verdict import Diagnosis
    from foible.trials import Case, Idea

__all__ = ["advised", "case_of", "first_advice", "share_of", "situation_of", "without_earth"]

BENCH_TOOLS = tuple(tool for tool in TOOLS if tool != "spare")


def situation_of(hidden: Hidden) -> Situation:
    """Return where a hidden fault is looked for: at the piste with spares, or on the bench with every tool."""
    return Situation(Mode.BENCH, hidden.item, BENCH_TOOLS) if hidden.item else Situation()


def case_of(hidden: Hidden, tables: Sequence[TrialTable]) -> Case:
    """Return a hidden fault as a case with some trials."""
    told = hidden.complaint.say if hidden.complaint else ""
    return made_case(CaseTable(weapon=hidden.setup.weapon, complaint=told, trial=tuple(tables)), overlays=hidden.setup.overlays)


def advised(reasoning: Reasoning, attempt: Attempt, trials: int | None = None) -> Diagnosis:
    """Return what the program makes of an attempt after its first `trials`, the fencer's words among them; by default all."""
    tables = attempt.tables if trials is None else attempt.tables[:trials]
    return reasoning.at(situation_of(attempt.hidden)).diagnose(case_of(attempt.hidden, tables))


def first_advice(diagnosis: Diagnosis, level: Level) -> Idea | None:
    """Return the trial to make next; None where it is time to act.

    Whoever knows by the level that a fault is always there moves nothing to bring it about.
    """
    act, ideas = act_of(diagnosis), [each.idea for each in diagnosis.advice]
    if (act is not None and act.now) or not ideas:
        return None
    still = (each for each in ideas if not each.trial.moves)
    return next(still, ideas[0]) if level is Level.STEADY else ideas[0]


def share_of(diagnosis: Diagnosis, item: str) -> float:
    """Return how probable it is that an item is at fault, or that nothing is wrong."""
    name = SOUND if item == NOTHING_WRONG else item
    return next((min(each.probability, 1.0) for each in diagnosis.finding.belief.by_item() if each.name == name), 0.0)


def without_earth(table: TrialTable, word: str) -> TrialTable:
    """Return a trial as somebody reports it who never looks at the lamp of an earthed line; `word`: what it is called."""
    said: list[str] = []
    for phrase in table.saw:
        side, _, rest = phrase.partition(" ")
        if rest == "nothing":
            said += [f"{side} no coloured"] if word != "yellow" else [f"{side} no white", f"{side} no coloured"]
        elif word not in rest:
            said.append(phrase)
    if table.saw and not said:  # it was the only lamp spoken of: to such eyes no hit lamp was lit
        said = [f"{phrase.partition(' ')[0]} no coloured" for phrase in table.saw]
    return table.model_copy(update={"saw": tuple(said)})
