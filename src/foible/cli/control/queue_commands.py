"""The `control` commands about time: when the queue is gone, which test comes first, how many teams an event needs."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated

import typer

from foible.cli.options import AsJson, Data, RulesFiles
from foible.cli.register.opened import register, told
from foible.cli.terminal import console, print_json
from foible.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import time, timedelta

__all__ = ["QUEUE"]

Competition = Annotated[int, typer.Argument(metavar="COMPETITION", min=1, help="Its number, as its address has it.")]


def show_queue(
    competition: Competition,
    *,
    until: Annotated[str | None, typer.Option("--until", metavar="HH:MM", help="When handing in ends; by default 17:00.")] = None,
    to_come: Annotated[
        int | None, typer.Option("--to-come", min=0, max=2000, help="Fencers still to come; by default those who have not.")
    ] = None,
    rules: RulesFiles = None,
    data: Data = None,
    as_json: AsJson = False,
) -> None:
    """Say when the queue of a competition will be gone, and what more people would save."""
    from foible.output.queue_json import queue_json
    from foible.services.control.forecasts import queue_now

    now = datetime.now(UTC)
    ends = _today(now, _hour(until)) if until else None
    with register(data) as store:
        queue = store.read(
            lambda session: queue_now(session, competition, now, until=ends, to_come=to_come, overlays=tuple(rules or ()))
        )
    if as_json:
        print_json(queue_json(queue))
        return
    found = queue.forecast
    if queue.no_station:
        _say("No station is open, so nothing can be forecast.")
    elif not queue.left and not found.to_come:
        _say("Nobody waits.")
    elif found.at is None or found.low is None or found.high is None:
        _say(f"Not with these stations: nobody is at {', '.join(each.name for each in found.by_stage if each.at is None)}.")
    else:
        _say(f"Gone by {_clock(found.at)}, 90 %: {_clock(found.low)}–{_clock(found.high)}.")
    _say(told(f"{queue.done} items through", f"{queue.left} waiting", f"{found.to_come} fencers still to come"))
    for place, each in enumerate(found.further):
        what = "one more team" if place == 0 and len(each.stages) > 1 else f"one more at {', '.join(each.stages)}"
        _say(f"  {what} saves {_minutes(each.saves)}")
    for stage in found.by_stage:
        gone = f"gone by {_clock(stage.at)}" if stage.at else "nobody is there"
        _say(f"  {told(stage.name, f'{stage.posts} open', f'{stage.waiting} waiting', f'{stage.seconds:.0f} s an item', gone)}")
    if queue.lull:
        _say("As it stood at the last test: nothing has been tested for more than two hours.")


def show_order(competition: Competition, *, rules: RulesFiles = None, data: Data = None, as_json: AsJson = False) -> None:
    """Say in which order each station finds most failing items for the time."""
    from foible.output.queue_json import order_json
    from foible.services.control.test_order import orders_at
    from foible.services.control.testing import kind_words

    with register(data) as store:
        orders = store.read(lambda session: orders_at(session, competition, overlays=tuple(rules or ())))
    if as_json:
        print_json(order_json(orders))
        return
    for each in orders:
        known = f"a failing one known after {each.takes.failing:.0f} s, by clause {each.by_clause.failing:.0f} s"
        _say(told(f"{kind_words(each.kind, each.weapon)}, {each.does.value}", known))
        for place, (requirement, _, chance) in enumerate(each.tests, 1):
            share = f"{100 * chance.mean:.1f} % fail, {chance.failed} of {chance.tested} so far"
            _say(f"  {place}. {told(requirement.quantity, requirement.clause, share)}")


def plan_table(
    fencers: Annotated[int, typer.Argument(metavar="FENCERS", min=1, max=2000, help="How many are expected.")],
    *,
    start: Annotated[str, typer.Option("--from", metavar="HH:MM", help="When handing in begins.")] = "08:00",
    until: Annotated[str, typer.Option("--until", metavar="HH:MM", help="When it ends.")] = "12:00",
    done_by: Annotated[str, typer.Option("--done-by", metavar="HH:MM", help="When all of it is to be done.")] = "17:00",
    weapon: Annotated[list[str] | None, typer.Option("--weapon", help="A weapon that is fenced; by default all.")] = None,
    measured_at: Annotated[
        int | None, typer.Option("--measured-at", metavar="COMPETITION", help="Take what items took at this competition.")
    ] = None,
    rules: RulesFiles = None,
    data: Data = None,
    as_json: AsJson = False,
) -> None:
    """Say how many teams an event needs, and what comes of a few more or fewer."""
    from foible.output.queue_json import plan_json
    from foible.services.control.plans import Wish, table_planned

    now = datetime.now(UTC).astimezone()
    hours = _hour(start), _hour(until), _hour(done_by)
    wish = Wish(fencers, now, *hours, tuple(weapon or ()), measured_at=measured_at)
    with register(data) as store:
        plan = store.read(lambda session: table_planned(session, wish, overlays=tuple(rules or ())))
    if as_json:
        print_json(plan_json(plan))
        return
    enough = plan.enough
    _say(
        f"{_teams(enough.teams)} will do: done by {enough.surely:%H:%M} with 90 %, more likely at {enough.at:%H:%M}."
        if enough
        else f"Not by {plan.done_by:%H:%M} with any of these: begin earlier, or hand in for longer."
    )
    for each in plan.teams:
        waits = f"{_minutes(each.wait)} from handing in to done, nine in ten within {_minutes(each.long_wait)}"
        _say(f"  {told(_teams(each.teams), f'{each.at:%H:%M}', f'{each.surely:%H:%M} with 90 %', waits)}")


QUEUE: dict[str, Callable[..., None]] = {"queue": show_queue, "order": show_order, "plan": plan_table}
"""The commands by their names in the terminal."""


def _teams(count: int) -> str:
    return f"{count} team{'' if count == 1 else 's'}"


def _say(words: str) -> None:
    console().print(words, markup=False, soft_wrap=True)


def _hour(words: str) -> time:
    try:
        return datetime.strptime(words, "%H:%M").time()  # noqa: DTZ007 — an hour of the day here
    except ValueError as error:
        raise InputError(seen=f"“{words}” is no time of day", remedy="give hours and minutes, such as 16:50") from error


def _today(now: datetime, hour: time) -> datetime:
    return now.astimezone().replace(hour=hour.hour, minute=hour.minute, second=0, microsecond=0)


def _clock(when: datetime) -> str:
    return f"{when.astimezone():%H:%M}"


def _minutes(span: timedelta) -> str:
    return f"{max(0, round(span.total_seconds() / 60))} min"
