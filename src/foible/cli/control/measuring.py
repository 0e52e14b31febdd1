"""The `verdict` and `budget` commands: what a reading near a limit comes to, and what a whole loop adds up to."""

from __future__ import annotations

from typing import Annotated

import typer

from foible.cli.options import AsJson, RulesFiles, Weapon
from foible.cli.terminal import console, print_json
from foible.errors import InputError

__all__ = ["budget", "verdict"]


# long: nine options
def verdict(
    reading: Annotated[
        str, typer.Argument(metavar="READING", help="The figure that the instrument showed, in the limit's unit.")
    ],
    limit: Annotated[
        list[str], typer.Argument(metavar="LIMIT", help="The limit: its name (`foible limits --json`), words or a clause.")
    ],
    *,
    instrument: Annotated[
        str | None, typer.Option("--instrument", metavar="NAME", help="A usual instrument; by default the one usual for it.")
    ] = None,
    u: Annotated[
        str | None, typer.Option("--u", metavar="U", help="Instead, the standard uncertainty of a reading, in that unit.")
    ] = None,
    rule: Annotated[
        str,
        typer.Option("--rule", metavar="RULE", help="“plain”, “against false pass” or “against false fail”."),
    ] = "plain",
    risk: Annotated[str, typer.Option("--risk", metavar="%", help="The risk that is accepted, of this item [%].")] = "5",
    weapon: Weapon = None,
    edition: Annotated[
        str | None, typer.Option("--edition", metavar="NAME", help="The edition to ask; by default the FIE’s, or your own rules.")
    ] = None,
    rules: RulesFiles = None,
    as_json: AsJson = False,
) -> None:
    """Say whether a reading passes, fails or is too close to call, and how likely the item keeps the limit."""
    from foible.output.control_json import verdict_json
    from foible.services.control.figures import figure
    from foible.services.control.instruments import of_uncertainty
    from foible.services.control.verdicts import OFFICIALS, limit_asked, rule_named
    from foible.services.control.verdicts import verdict as verdict_of
    from foible.services.rulebook import Rulebook

    asked = limit_asked(" ".join(limit), weapon=weapon, edition=edition or Rulebook(rules or ()).usual, overlays=rules or ())
    known = of_uncertainty(figure(u, "u"), asked) if u is not None else instrument
    chance = figure(risk, "risk", least=0.1, most=49) / 100
    said = verdict_of(figure(reading, "reading"), asked, known, rule=rule_named(rule), risk=chance)
    if as_json:
        print_json(verdict_json(said))
        return
    for line in (f"{asked.quantity}: {said.say}.", said.advice, f"{said.instrument.name}, {said.rule.value}. {OFFICIALS}"):
        if line:
            console().print(line, markup=False, soft_wrap=True)


def budget(
    weapon: Annotated[str, typer.Argument(metavar="WEAPON", help="Which weapon.")],
    read: Annotated[
        list[str] | None, typer.Argument(metavar="PART=OHMS", help="What a part reads, such as “reel line B=2.9”; any number.")
    ] = None,
    *,
    meter: Annotated[str, typer.Option("--meter", metavar="NAME", help="One of the usual meters.")] = "",
    as_json: AsJson = False,
) -> None:
    """Add up a weapon's loop and line A, part by part, beside the legal maxima and what the apparatus stands."""
    from foible.output.control_json import budgets_json
    from foible.services.control.budgets import budgets_of
    from foible.services.control.verdicts import OFFICIALS

    found = budgets_of(weapon, dict(_part(each) for each in read or ()), meter=meter)
    if as_json:
        print_json(budgets_json(found))
        return
    for way in found.ways:
        console().print(f"{way.say}.", markup=False, soft_wrap=True)
        for line in way.lines:
            ohms = f"{line.measured.ohms:.3g} Ω" if line.measured else "not read"
            over = ", over" if line.over else ""
            console().print(
                f"  {line.name:22} {ohms:>9}  {line.requirement.text}, {100 * line.share:.0f} %{over}",
                markup=False,
                soft_wrap=True,
            )
    console().print(OFFICIALS, markup=False, soft_wrap=True)


def _part(text: str) -> tuple[str, str]:
    name, equals, ohms = text.partition("=")
    if not equals:
        raise InputError(seen=f"“{text[:40]}” says nothing of its ohms", remedy="write a part and its ohms, such as “weapon=1.2”")
    return name.strip(), ohms
