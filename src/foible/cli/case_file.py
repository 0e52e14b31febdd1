"""The commands that work on a case file: `diagnose`, `why`, `repair` and `ask`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from foible.cli.options import AsJson, CaseFile, Facts, KitFolders, OnBench, Suspected, Tools, Top
from foible.cli.terminal import case_in, chosen, console, print_json, reasoning_at, todays_names

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.services.reasoning import Reasoning
    from foible.trials import Case

__all__ = ["ask", "diagnose", "repair", "why"]


def diagnose(
    case: CaseFile,
    *,
    as_json: AsJson = False,
    top: Top = 6,
    tools: Tools = None,
    bench: OnBench = None,
    facts: Facts = None,
    kit: KitFolders = None,
) -> None:
    """Work back from the trials of a case to the suspects, and say what to try next and why."""
    from foible.cli.show import show_diagnosis
    from foible.output.asjson import diagnosis_json

    at, read = _case_at(case, tools=tools, item=bench, facts=facts, kit=kit)
    diagnosis = at.diagnose(read)
    if as_json:
        print_json(diagnosis_json(diagnosis, at.verdict(diagnosis, top), top))
    else:
        show_diagnosis(console(), at, diagnosis, at.verdict(diagnosis, top))


def why(
    case: CaseFile,
    *,
    suspect: Suspected = 1,
    trial: Annotated[int | None, typer.Option("--trial", min=1, help="Only this trial, counted from 1; by default all.")] = None,
    kit: KitFolders = None,
) -> None:
    """Explain what a suspect does to the lamps in a trial: the path of the current, or where it is interrupted."""
    from foible.cli.show import show_weight, show_why

    reasoning = reasoning_at(kit)
    diagnosis = reasoning.diagnose(case_in(case, reasoning))
    named = chosen("suspect", diagnosis.finding.suspects, suspect)
    numbers = range(len(diagnosis.trials)) if trial is None else [trial - 1]
    about = reasoning.about(diagnosis, named, among=suspect)
    doubts = dict(reasoning.verdict(diagnosis, suspect).doubts.misread)
    for number in numbers:
        chosen("trial", diagnosis.trials, number + 1)
        show_why(console(), reasoning, diagnosis, reasoning.why(diagnosis, named, number))
        show_weight(console(), about.weights[number], doubts.get(number))


def repair(
    case: CaseFile,
    *,
    suspect: Suspected = 1,
    sure: Annotated[float, typer.Option("--sure", min=0.5, max=0.9999, help="How certain the proof must be.")] = 0.95,
    tools: Tools = None,
    bench: OnBench = None,
    facts: Facts = None,
    kit: KitFolders = None,
) -> None:
    """Say how to mend a suspect, with what tools and what care, and which trials prove the repair."""
    from foible.cli.show import show_repair

    at, read = _case_at(case, tools=tools, item=bench, facts=facts, kit=kit)
    diagnosis = at.diagnose(read)
    named = chosen("suspect", diagnosis.finding.suspects, suspect)
    about = at.about(diagnosis, named, among=suspect, sure=sure)
    show_repair(console(), diagnosis.case.setup.kind, about, sure)


def ask(
    case: Annotated[
        Path | None, typer.Argument(metavar="[CASE]", help="A case file, old or new; by default a new one in this folder.")
    ] = None,
    *,
    tools: Tools = None,
    bench: OnBench = None,
    facts: Facts = None,
    kit: KitFolders = None,
) -> None:
    """Work through a case step by step: Foible offers the next trial, and each answer is saved in the file CASE.

    A new case begins with the weapon and what the fencer says.
    """
    from foible.cli.conversation import Conversation
    from foible.cli.heading import unused_file

    path = unused_file(Path()) if case is None else case
    Conversation(reasoning_at(kit, tools=tools, item=bench, facts=facts), path, console()).hold()


def _case_at(
    path: Path, *, tools: str | None, item: str | None, facts: str | None, kit: Sequence[Path] | None
) -> tuple[Reasoning, Case]:
    """Return the reasoning in the place that options name, and the case in a file. Raises ProblemsError, UnknownNameError."""
    case = case_in(path, reasoning_at(kit))
    with todays_names(kit) as given:
        item = item and given.item(item, case.setup.weapon)
    return reasoning_at(kit, tools=tools, item=item, facts=facts), case
