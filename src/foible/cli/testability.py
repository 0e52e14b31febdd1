"""The `testability` command: what the tools at hand can tell apart."""

from __future__ import annotations

from typing import Annotated

import typer

from foible.cli.options import KitFolders, Weapon
from foible.cli.terminal import console, print_json, reasoning_at, todays_names
from foible.errors import UnknownNameError
from foible.situation import TOOLS

__all__ = ["testability"]

LAMPS, NONE = "lamps", "none"
"""Words for a set of tools: nothing but lamps, and nothing but lamps and eye."""

Tools = Annotated[
    str | None,
    typer.Option(
        "--tools",
        metavar="LIST",
        help=f"The tools at hand, separated by commas: {', '.join(TOOLS)}; “{NONE}” for eye and hand alone, “{LAMPS}” for lamps "
        "alone. By default the usual sets side by side.",
    ),
]
Groups = Annotated[int, typer.Option("--groups", min=0, help="How many ambiguity groups to show.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON instead of text (docs/testability.md).")]


def testability(
    *,
    weapon: Weapon = None,
    tools: Tools = None,
    groups: Groups = 10,
    as_json: AsJson = False,
    kit: KitFolders = None,
) -> None:
    """Show how much of what can fail the tools at hand detect, how far they tell it apart, and what they cannot separate."""
    from foible.cli.show_testability import show_testability, testability_json
    from foible.diagnosis.testability import STANDARD_SETS

    sets = STANDARD_SETS if tools is None else {tools: _at_hand(tools)}
    reasoning = reasoning_at(kit)
    with todays_names(kit) as given:
        known = reasoning.setup(weapon and given.weapon(weapon)).weapon
    made = reasoning.testability(known, sets)
    if as_json:
        print_json(testability_json(known, made, groups))
    else:
        show_testability(console(), made, groups)


def _at_hand(text: str) -> tuple[str, ...]:
    """Return the tools that a list with commas names. Raises UnknownNameError."""
    from foible.diagnosis.testability import EYE
    from foible.kit import plain

    names = [plain(name) for name in text.split(",")]
    for name in names:
        if name not in (*TOOLS, LAMPS, NONE):
            raise UnknownNameError(what="tool", name=name, known=(*TOOLS, LAMPS, NONE))
    return tuple(name for name in (EYE, *names) if name not in (LAMPS, NONE) and (name != EYE or LAMPS not in names))
