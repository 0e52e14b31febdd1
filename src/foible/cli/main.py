"""The `foible` command."""

from __future__ import annotations

import io
import json
import math
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import typer
from rich.console import Console
from rich.progress import track

from foible import __version__
from foible.cli.card import card
from foible.cli.serve import serve
from foible.cli.testability import testability
from foible.errors import FoibleError, OutOfCountError
from foible.kit import plain
from foible.services.reasoning import Reasoning
from foible.situation import TOOLS, Mode, Situation, tools_listed

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

__all__ = ["command", "run"]

Chosen = TypeVar("Chosen")

command = typer.Typer(
    help="Say what you did and what lit: Foible works back through the circuit to the part that failed.\n\n"
    "It advises. The competition's own officials, the rulebook in force and qualified people decide.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

KitFolders = Annotated[
    list[Path] | None,
    typer.Option("--kit", metavar="FOLDER", help="Folder with further kit files; may be given again."),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON instead of text (docs/json.md).")]
Top = Annotated[int, typer.Option("--top", min=1, max=50, help="How many suspects to show.")]
Tools = Annotated[
    str | None,
    typer.Option("--tools", metavar="LIST", help=f"What is at hand, with commas, out of {', '.join(TOOLS)}; “none” for nothing."),
]
OnBench = Annotated[
    str | None,
    typer.Option(
        "--bench",
        metavar="ITEM",
        help="The item on the bench, such as “left weapon”: which repair it needs. Left out: the piste.",
    ),
]
Suspected = Annotated[int, typer.Option("--suspect", min=1, help="Which suspect, counted from 1.")]
CaseFile = Annotated[Path, typer.Argument(metavar="CASE", help="A case file (docs/case-file.md).")]


def _reasoning(kit: list[Path] | None, *, tools: str | None = None, item: str | None = None) -> Reasoning:
    mode = Mode.BENCH if item else Mode.PISTE
    at_hand = tools_listed(tools) if tools is not None else mode.usual_tools
    return Reasoning(overlays=kit or (), situation=Situation(mode=mode, item=item, tools=at_hand))


def _console() -> Console:
    return Console(highlight=False)


def _watched(things: Sequence[Chosen], label: str) -> Iterable[Chosen]:
    """Pass things on with a progress bar, where somebody sees it."""
    errors = Console(stderr=True)
    return track(things, description=label, console=errors, transient=True, disable=not errors.is_terminal)


def _print_json(data: dict[str, Any]) -> None:
    sys.stdout.write(json.dumps(data, ensure_ascii=False, indent=2) + "\n")


command.command()(serve)
command.command()(card)
command.command()(testability)


@command.callback(invoke_without_command=True)
def _foible(*, version: Annotated[bool, typer.Option("--version", help="Print the version.")] = False) -> None:
    if version:
        typer.echo(f"foible {__version__}")
        raise typer.Exit


@command.command()
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
    from foible.cli.show import show_diagnosis  # noqa: PLC0415
    from foible.output.asjson import diagnosis_json  # noqa: PLC0415 — each command loads what it needs

    at = _reasoning(kit, tools=tools, item=bench)
    diagnosis = at.diagnose(at.case(case))
    if as_json:
        _print_json(diagnosis_json(diagnosis, top, doubts=at.doubts(diagnosis, top)))
    else:
        show_diagnosis(_console(), diagnosis, top, at.doubts(diagnosis, top))


@command.command()
def why(
    case: CaseFile,
    *,
    suspect: Suspected = 1,
    trial: Annotated[int | None, typer.Option("--trial", min=1, help="Which trial of the case; left out, each of them.")] = None,
    kit: KitFolders = None,
) -> None:
    """Say what a suspect makes the lamps do in a trial: the way the current takes, or where it is cut."""
    from foible.cli.show import show_weight, show_why  # noqa: PLC0415

    reasoning = _reasoning(kit)
    diagnosis = reasoning.diagnose(reasoning.case(case))
    named = _chosen("suspect", diagnosis.finding.suspects, suspect)
    numbers = range(len(diagnosis.trials)) if trial is None else [trial - 1]
    bits, misread = reasoning.weighed(diagnosis, named), reasoning.misread(diagnosis)
    for number in numbers:
        made = _chosen("trial", diagnosis.trials, number + 1)
        show_why(_console(), diagnosis, reasoning.why(diagnosis.case, made, named, number=number))
        show_weight(_console(), bits[number], misread[number])


@command.command()
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
    from foible.cli.show import show_repair  # noqa: PLC0415

    at = _reasoning(kit, tools=tools, item=bench)
    diagnosis = at.diagnose(at.case(case))
    named = _chosen("suspect", diagnosis.finding.suspects, suspect)
    show_repair(_console(), named, at.repair(diagnosis.case, named), at.proof(diagnosis, named, sure=sure), sure)


def _chosen(what: str, among: Sequence[Chosen], number: int) -> Chosen:
    """Return the entry that the user counted from 1."""
    if number > len(among):
        raise OutOfCountError(what=what, number=number, count=len(among))
    return among[number - 1]


@command.command()
def ask(case: CaseFile, *, tools: Tools = None, bench: OnBench = None, kit: KitFolders = None) -> None:
    """Go through a case step by step: the next trial is offered, the answer taken, the case kept in the file CASE."""
    from foible.cli.ask import Conversation  # noqa: PLC0415

    Conversation(_reasoning(kit, tools=tools, item=bench), case, _console()).hold()


@command.command()
def lamps(
    failure: Annotated[str, typer.Argument(metavar="FAILURE", help="“part: mode”, a part with one failure, or “sound”.")],
    *,
    ohms: Annotated[
        float | None,
        typer.Option("--ohms", min=0.001, max=1e12, help="Severity in ohms; left out, the most usual one."),
    ] = None,
    weapon: Annotated[str, typer.Option("--weapon", help="Which set-up.")] = "foil",
    as_json: AsJson = False,
    kit: KitFolders = None,
) -> None:
    """Show what would light in every trial if a certain part had failed."""
    from foible.cli.show import ohms_words, show_lamps  # noqa: PLC0415
    from foible.output.asjson import lamps_json  # noqa: PLC0415

    reasoning = _reasoning(kit)
    wanted = None if plain(failure) == "sound" else reasoning.failure(failure, weapon=weapon)
    usual = max(wanted.ladder, key=lambda step: step[1])[0] if wanted else math.nan
    severity = usual if ohms is None else ohms
    rows = reasoning.lamps(wanted, severity, weapon=weapon, watch=lambda ideas: _watched(ideas, "trials"))
    name = f"{wanted.id}, {ohms_words(severity)}" if wanted else "sound kit"
    if as_json:
        _print_json(lamps_json(name, rows))
    else:
        show_lamps(_console(), name, rows)


@command.command()
def score(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder of case files whose cause is known.")],
    *,
    as_json: AsJson = False,
    kit: KitFolders = None,
) -> None:
    """Run a folder of cases whose cause is known and print how well each comes out."""
    from foible.cli.show import show_score  # noqa: PLC0415
    from foible.output.asjson import score_json  # noqa: PLC0415

    result = _reasoning(kit).score(folder, watch=lambda paths: _watched(paths, "cases"))
    if as_json:
        _print_json(score_json(result))
    else:
        show_score(_console(), result)


@command.command()
def times(
    *,
    weapon: Annotated[str, typer.Option("--weapon", help="Which weapon.")] = "foil",
    apart: Annotated[
        float | None, typer.Option("--apart", min=0, help="Two good hits so many milliseconds apart: do both show?")
    ] = None,
    kit: KitFolders = None,
) -> None:
    """Print the times that count at a weapon, with their clauses."""
    from foible.cli.show import show_times  # noqa: PLC0415

    reasoning = _reasoning(kit)
    show_times(_console(), reasoning.times(weapon), None if apart is None else reasoning.chance_both_register(weapon, apart))


@command.command()
def kit(*, weapon: Annotated[str, typer.Option("--weapon", help="Which set-up.")] = "foil", kit: KitFolders = None) -> None:
    """Print the names of all items, parts, places, connections and movements that a case file can use."""
    from foible.cli.show import show_kit  # noqa: PLC0415

    show_kit(_console(), _reasoning(kit).setup(weapon))


def run() -> None:
    """Run the command; errors that Foible raises on purpose become a message and an exit code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    try:
        command()
    except FoibleError as error:
        Console(stderr=True, highlight=False, soft_wrap=True).print(str(error), markup=False)
        sys.exit(error.exit_code)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(1)
