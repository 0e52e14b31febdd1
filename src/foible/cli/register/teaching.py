"""What the register teaches, and a season of it, in the terminal."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from foible.cli.options import AsJson, Data, KitFolders, Weapon
from foible.cli.register.opened import register, told
from foible.cli.terminal import console, print_json, write_whole

if TYPE_CHECKING:
    from collections.abc import Iterator

    from foible.services.register.learned import ItemLine, LearnedPage, Line
    from foible.services.register.season import Season, Verdict

__all__ = ["learned", "season"]

LISTED = 12


def learned(
    *,
    weapon: Weapon = None,
    count: Annotated[int, typer.Option("--count", min=1, max=1000, help="How many lines to list of each kind.")] = LISTED,
    as_json: AsJson = False,
    data: Data = None,
    kit: KitFolders = None,
) -> None:
    """Say what the club's jobs have taught: which failures, makes and items come back more often than usual."""
    from foible.kit import default_weapon, load_setup, weapon_at
    from foible.output.register_json import learned_json
    from foible.services.opening import teacher_of_records
    from foible.services.register.learned import among_items, learned_page

    chosen = weapon_at(weapon, kit or ()) if weapon else default_weapon(kit or ())
    with register(data) as store:
        teacher = teacher_of_records(store.database)
        page = learned_page(teacher, load_setup(chosen.name, overlays=kit or ()))
        makes, items = among_items(teacher, page, count)
        counts = teacher.store.learns().value
    if as_json:
        print_json(learned_json(page, makes, items, counts=counts))
        return
    for line in _learned_lines(page, makes[:count], items, count):
        console().print(line, markup=False, soft_wrap=True)
    if not counts:
        console().print("Cases are reasoned by the kit files alone: learning is switched off.", markup=False)


# long: a line for each option
def season(
    *,
    start: Annotated[
        datetime | None,
        typer.Option("--start", formats=["%Y-%m-%d"], metavar="DAY", help="Any day of it; by default today."),
    ] = None,
    level: Annotated[float, typer.Option("--level", min=0.5, max=0.999, help="How sure to be of having enough.")] = 0.95,
    months: Annotated[float, typer.Option("--months", min=0.1, max=36, help="For how long parts are ordered.")] = 10,
    fencers: Annotated[int, typer.Option("--fencers", min=1, max=2000, help="Fencers at the competition.")] = 20,
    days: Annotated[int, typer.Option("--days", min=1, max=30, help="For how many days.")] = 1,
    per_hour: Annotated[float, typer.Option("--per-hour", min=0, max=1000, help="What an hour at the bench counts for.")] = 10,
    pdf: Annotated[Path | None, typer.Option("--pdf", metavar="FILE", help="Write the report to print, with plots.")] = None,
    as_json: AsJson = False,
    data: Data = None,
    kit: KitFolders = None,
) -> None:
    """Sum up a season: what failed, what to order, to take along, to mend or retire, and what care would have spared."""
    from foible.kit import all_weapons, load_setup
    from foible.output.register_json import season_json
    from foible.output.season_pdf import season_pdf
    from foible.services.opening import teacher_of_records
    from foible.services.register.season import Plan, season_of, usual_repairs
    from foible.services.register.season import season as summed

    repairs = usual_repairs([load_setup(weapon.name, overlays=kit or ()) for weapon in all_weapons(kit or ())])
    with register(data) as store:
        teacher = teacher_of_records(store.database)
        first, last = season_of(start.date() if start else store.clock().date())
        plan = Plan(first, last, level, months, fencers, days, round(100 * per_hour))
        made = summed(teacher.store, plan, repairs, store.clock())
    if pdf is not None:
        write_whole(pdf, season_pdf(made))
        console().print(f"The season from {first} written to {pdf}.", markup=False, soft_wrap=True)
    elif as_json:
        print_json(season_json(made))
    else:
        for line in _season_lines(made):
            console().print(line, markup=False, soft_wrap=True)


def _learned_lines(page: LearnedPage, makes: list[Line], items: list[ItemLine], count: int) -> Iterator[str]:
    if not page.jobs:
        yield f"No job has found anything in {page.weapon} kit yet, so the kit files' own rates hold."
        return
    nothing = f", {page.sound:.0f} of which found nothing wrong" if page.sound else ""
    yield f"{page.jobs:.0f} jobs with {page.weapon} kit{nothing}."
    for head, lines in (("By failure", page.failures), ("By kind of item", page.kinds), ("By make", makes)):
        yield from ([head] if lines else [])
        yield from (_often(line) for line in lines[:count])
    yield from (["Items that keep coming back"] if items else [])
    yield from (f"  {told(each.code, each.name, _often(each.line, named=False))}" for each in items)


def _often(line: Line, *, named: bool = True) -> str:
    said = f"{line.words} (90 %: {line.low:.2g}–{line.high:.2g}), found {line.count:.0f} ×"
    return f"  {line.name}: {said}" if named else said


def _season_lines(made: Season) -> Iterator[str]:
    from calendar import month_abbr

    from foible.output.words import money_words, percent

    plan, due = made.plan, [each for each in made.orders if each.order]
    yield f"The season from {plan.start} to {plan.end}"
    yield f"{made.jobs} jobs, {made.minutes / 60:.1f} hours at the bench, parts for {money_words(made.parts_cost)}."
    spent = money_words(sum(each.cost for each in due))
    sections = {
        "What failed": [f"{each.count:4} × {each.name} · together {percent(each.together)}" for each in made.causes[:LISTED]],
        f"Parts to order for {plan.months:g} months, enough with {percent(plan.level)}: {spent}": [
            f"{each.order:4} × {told(each.part.name, each.part.code, money_words(each.cost))}" for each in due
        ],
        f"To take along for {plan.fencers} fencers over {plan.days} day{'s' * (plan.days != 1)}": [
            f"{each.enough:4} × {each.kind} · {each.expected:.1f} expected to fail" for each in made.spares
        ],
        "Mend or retire": [_verdict(each) for each in made.verdicts[:LISTED]],
        "Care by the calendar": [
            told(care.task, ", ".join(month_abbr[month] for month in care.months), f"might have spared {care.failures}")
            for care in made.care
        ],
    }
    for head, lines in sections.items():
        yield head
        yield from (f"  {line}" for line in lines or ["nothing on record yet"])


def _verdict(each: Verdict) -> str:
    from foible.output.words import percent

    word = {"retire": "retire it", "mend": "mend it again", "open": "either: too little is known"}[each.choice.word]
    sure = f"replacing is cheaper with {percent(each.choice.replacing_cheaper)}"
    return told(each.item.code, each.item.name, f"{each.jobs} jobs", word, sure)
