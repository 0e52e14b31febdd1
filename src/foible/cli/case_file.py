"""The commands that work on a case file: `diagnose`, `why`, `repair` and `ask`."""

from __future__ import annotations

from typing import Annotated

import typer

from foible.cli.options import AsJson, CaseFile, KitFolders, OnBench, Suspected, Tools, Top
from foible.cli.terminal import chosen, console, print_json, reasoning_at

__all__ = ["ask", "diagnose", "repair", "why"]


def diagnose(
    case: CaseFile,
    *,
    as_json: AsJson = False,
    top: Top = 6,
    tools: Tools = None,
    bench: OnBench = None,
    kit: KitFolders = None,
) -> None:
    """Work back from the trials of a case to the suspects, and say what to try next and why."""
    from foible.cli.show import show_diagnosis
    from foible.output.asjson import diagnosis_json

    at = reasoning_at(kit, tools=tools, item=bench)
    diagnosis = at.diagnose(at.case(case))
    if as_json:
        print_json(diagnosis_json(diagnosis, top, doubts=at.doubts(diagnosis, top)))
    else:
        show_diagnosis(console(), diagnosis, top, at.doubts(diagnosis, top))


def why(
    case: CaseFile,
    *,
    suspect: Suspected = 1,
    trial: Annotated[int | None, typer.Option("--trial", min=1, help="Which trial of the case; left out, each of them.")] = None,
    kit: KitFolders = None,
) -> None:
    """Say what a suspect makes the lamps do in a trial: the way the current takes, or where it is cut."""
    from foible.cli.show import show_weight, show_why

    reasoning = reasoning_at(kit)
    diagnosis = reasoning.diagnose(reasoning.case(case))
    named = chosen("suspect", diagnosis.finding.suspects, suspect)
    numbers = range(len(diagnosis.trials)) if trial is None else [trial - 1]
    bits, misread = reasoning.weighed(diagnosis, named), reasoning.misread(diagnosis)
    for number in numbers:
        made = chosen("trial", diagnosis.trials, number + 1)
        show_why(console(), diagnosis, reasoning.why(diagnosis.case, made, named, number=number))
        show_weight(console(), bits[number], misread[number])


def repair(
    case: CaseFile,
    *,
    suspect: Suspected = 1,
    sure: Annotated[float, typer.Option("--sure", min=0.5, max=0.9999, help="How sure the proof is to be.")] = 0.99,
    tools: Tools = None,
    bench: OnBench = None,
    kit: KitFolders = None,
) -> None:
    """Say how a suspect is mended, with what and how carefully, and which trials prove that it is."""
    from foible.cli.show import show_repair

    at = reasoning_at(kit, tools=tools, item=bench)
    diagnosis = at.diagnose(at.case(case))
    named = chosen("suspect", diagnosis.finding.suspects, suspect)
    show_repair(console(), named, at.repair(diagnosis.case, named), at.proof(diagnosis, named, sure=sure), sure)


def ask(case: CaseFile, *, tools: Tools = None, bench: OnBench = None, kit: KitFolders = None) -> None:
    """Go through a case step by step: the next trial is offered, the answer taken and kept in the file CASE."""
    from foible.cli.conversation import Conversation

    Conversation(reasoning_at(kit, tools=tools, item=bench), case, console()).hold()
