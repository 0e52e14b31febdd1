"""The commands that say how sound and broken kit behaves: `lamps`, `times` and `kit`."""

from __future__ import annotations

import math
from typing import Annotated

import typer

from foible.cli.options import AsJson, KitFolders, Weapon
from foible.cli.terminal import console, print_json, reasoning_at, todays_names, watched

__all__ = ["kit", "lamps", "times"]


def lamps(
    failure: Annotated[str, typer.Argument(metavar="FAILURE", help="“part: mode”, a part with one failure, or “sound”.")],
    *,
    ohms: Annotated[
        float | None,
        typer.Option("--ohms", min=0.001, max=1e12, help="Severity in ohms; by default the most usual one."),
    ] = None,
    weapon: Weapon = None,
    as_json: AsJson = False,
    kit: KitFolders = None,
) -> None:
    """Show what would light in every trial if a given part had failed."""
    from foible.cli.show import ohms_words, show_lamps
    from foible.kit import plain
    from foible.output.asjson import lamps_json

    reasoning = reasoning_at(kit)
    with todays_names(kit) as given:
        known = reasoning.weapon(weapon and given.weapon(weapon)).name
        wanted = None if plain(failure) == "sound" else reasoning.failure(given.failure(failure, known), weapon=known)
    usual = wanted.usual_ohms if wanted else math.nan
    severity = usual if ohms is None else ohms
    rows = reasoning.lamps(wanted, severity, weapon=known, watch=lambda ideas: watched(ideas, "trials"))
    name = f"{wanted.id}, {ohms_words(severity)}" if wanted else "sound kit"
    if as_json:
        print_json(lamps_json(name, rows))
    else:
        show_lamps(console(), name, rows)


def times(
    *,
    weapon: Weapon = None,
    apart: Annotated[
        float | None, typer.Option("--apart", min=0, help="With two valid hits this many milliseconds apart, do both register?")
    ] = None,
    kit: KitFolders = None,
) -> None:
    """Print the apparatus's times for a weapon, with their clauses."""
    from foible.cli.show import show_times

    reasoning = reasoning_at(kit)
    with todays_names(kit) as given:
        known = reasoning.weapon(weapon and given.weapon(weapon)).name
    show_times(console(), reasoning.times(known), None if apart is None else reasoning.chance_both_register(known, apart))


def kit(*, weapon: Weapon = None, kit: KitFolders = None) -> None:
    """Print the names of all items, parts, places, connections and movements that a case file can use."""
    from foible.cli.show import show_kit

    with todays_names(kit) as given:
        setup = reasoning_at(kit).setup(weapon and given.weapon(weapon))
    show_kit(console(), setup)
