"""The `foible` command: every other command is attached here."""

from __future__ import annotations

import gc
import io
import os
import sys
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from foible import __version__
from foible.cli.card import card
from foible.cli.case_file import ask, diagnose, repair, why
from foible.cli.control import CONTROL
from foible.cli.control.measuring import budget, verdict
from foible.cli.control.morning import morning, sheet
from foible.cli.copies import backup, check, restore
from foible.cli.devices import devices
from foible.cli.kept_cases import about, close, list_cases, reopen, save, take
from foible.cli.kit import kit, lamps, times
from foible.cli.limits import limits
from foible.cli.people import add, change, erase, export, list_people, unlock
from foible.cli.practise import PRACTISE
from foible.cli.register import ITEMS, JOBS, PARTS, learned, season
from foible.cli.score import score
from foible.cli.serve import serve
from foible.cli.testability import testability
from foible.errors import FoibleError, printable

__all__ = ["command", "run"]

GC_THRESHOLDS = (50_000, 20, 100)
"""Thresholds that make garbage collection rare: a command leaves little behind, and ends soon."""

OF_A_CASE = (diagnose, ask, why, repair)
OF_FOIBLE = (serve, devices, backup, restore, check)
OF_THE_REGISTER = (learned, season)
OF_THE_TABLE = (morning, sheet)
OF_THE_KIT = (card, limits, verdict, budget, lamps, times, kit, testability, score)
COMMANDS = (*OF_A_CASE, *OF_FOIBLE, *OF_THE_REGISTER, *OF_THE_TABLE, *OF_THE_KIT)
"""In the order in which the help lists them."""


class _Commands(TyperGroup):
    """The commands.

    Where nobody asks for help the option is False, not None: to read None, Typer loads pydantic, which takes as long as
    everything else together.
    """

    def get_help_option(self, ctx: Any) -> Any:  # noqa: ANN401 — of Click, which Typer may bring with it or not
        option = super().get_help_option(ctx)
        if option is not None:
            option.default = False
        return option


command = typer.Typer(
    cls=_Commands,
    help="Say what you did and what lit: Foible works back through the circuit to the part that failed.\n\n"
    "It advises. The competition's own officials, the rulebook in force and qualified people decide.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
for each in COMMANDS:
    command.command()(each)
cases = typer.Typer(
    cls=_Commands,
    help="Kept cases: list them, save one as a case file, import case files, close and reopen.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
cases.command("list")(list_cases)
cases.command()(save)
cases.command()(take)
cases.command()(close)
cases.command()(about)
cases.command()(reopen)
command.add_typer(cases, name="cases")
for group, words, attached in (
    ("items", "The register's items: find, show, register and label them; import and export everything.", ITEMS),
    ("jobs", "Job cards: the queue, a new job, what was done, its receipt.", JOBS),
    ("parts", "Parts in stock: list, register, count and order them.", PARTS),
    ("control", "The control table: competitions, lists of fencers, figures, reject forms, queue, plans.", CONTROL),
    ("practise", "The practice strip: lessons, drills, hidden faults, and a check of your own lessons.", PRACTISE),
):
    of_group = typer.Typer(cls=_Commands, help=words, no_args_is_help=True, rich_markup_mode=None)
    for name, each in attached.items():
        of_group.command(name)(each)
    command.add_typer(of_group, name=group)
people = typer.Typer(
    cls=_Commands,
    help="People and clubs of the register: who owns kit, who signs in, who may do what.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
people.command("list")(list_people)
people.command()(add)
people.command()(change)
people.command()(unlock)
people.command()(erase)
people.command()(export)
command.add_typer(people, name="people")


def _say_version(wanted: bool) -> None:  # noqa: FBT001 — as Typer calls it
    if wanted:
        typer.echo(f"foible {__version__}")
        raise typer.Exit


@command.callback()
def _foible(
    *,
    version: Annotated[bool, typer.Option("--version", help="Print the version.", callback=_say_version, is_eager=True)] = False,
) -> None: ...


def run() -> None:
    """Run the command; errors that Foible raises on purpose become a message and an exit code."""
    # Matrices are small here, and more threads only fight over the cores. OpenBLAS reads this when NumPy loads it, later.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    gc.set_threshold(*GC_THRESHOLDS)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    try:
        command()
    except FoibleError as error:
        from rich.console import Console

        Console(stderr=True, highlight=False, soft_wrap=True).print(printable(str(error)), markup=False)
        sys.exit(error.exit_code)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(1)
