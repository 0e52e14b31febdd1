"""A diagnosis in; out, what the rulebook tells the referee of the fault: only at the piste, for a bench has no hit to judge."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.diagnosis import Kind
from foible.rules import Fault, Ruling, rulings
from foible.situation import Mode
from foible.trials import complained_of

if TYPE_CHECKING:
    from foible.services.verdict import Act, Diagnosis

__all__ = ["Ruling", "referee_lines"]

LIKELY = 0.5
"""An item is where the fault is said to be if that is more likely than not."""


def referee_lines(diagnosis: Diagnosis, act: Act | None) -> tuple[Ruling, ...]:
    """Return what a referee wants to know of the fault, question by question; nothing on the bench, or before any trial."""
    if diagnosis.decision.mode is not Mode.PISTE or not diagnosis.trials:
        return ()
    return rulings(fault_of(diagnosis, act))


def fault_of(diagnosis: Diagnosis, act: Act | None) -> Fault:
    """Return what is known of a fault: what is to be done now says what it is in, else the item that is likelier than not."""
    case, finding = diagnosis.case, diagnosis.finding
    setup = case.setup
    said = complained_of(setup, case.complaint, diagnosis.trials)
    deed = act.ending.acts[0] if act else None
    likeliest = finding.items[0] if finding.items else None
    name = deed.item if deed else likeliest.name if likeliest and likeliest.probability > LIKELY else ""
    suspect = next((each for each in finding.suspects if each.item == name), None)
    return Fault(
        weapon=setup.weapon,
        item=setup.items[name] if name else None,
        failure=suspect.failure if suspect else None,
        sound=deed.kind is Kind.NOTHING_WRONG if deed else finding.sound > LIKELY,
        missing=said.missing if said else None,
        spurious=said.spurious if said else None,
    )
