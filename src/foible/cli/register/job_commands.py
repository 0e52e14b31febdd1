"""The `jobs` commands: the queue, a card, a new job, what was done, its receipt."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from foible.cli.options import Data, KitFolders
from foible.cli.register.opened import here, register, told
from foible.cli.terminal import console, write_whole

if TYPE_CHECKING:
    from foible.records.register import NewReading, RegisteredItem

__all__ = ["add_job", "done", "list_jobs", "next_job", "receipt", "show_job", "take_line_back"]

NumberArgument = Annotated[int, typer.Argument(metavar="NUMBER", min=1, help="The job's number.")]


def list_jobs(
    *,
    count: Annotated[int, typer.Option("--count", min=1, max=1000, help="How many jobs to list.")] = 20,
    data: Data = None,
) -> None:
    """List the jobs to be done, by the day promised."""
    from foible.records.register import QueueQuery, queue
    from foible.services.register.kinds import words_of

    with register(data) as store:
        found = store.read(lambda session: queue(session, QueueQuery(), limit=count))
    for job, item in found:
        line = told(f"job {job.id}", item.code, words_of(item), job.complaint, job.state.value, job.promised)
        console().print(line, markup=False, soft_wrap=True)
    if not found:
        console().print("No job to be done.", markup=False)


def show_job(number: NumberArgument, *, data: Data = None) -> None:
    """Show a job card with everything on it, each line with its number."""
    from foible.records.register import LineKind, job_by_number
    from foible.services.paperwork import receipt_of

    with register(data) as store:
        card, job = store.read(lambda session: (receipt_of(session, number), job_by_number(session, number)))
    used = iter(card.used)
    lines = [told(f"job {card.number}", card.code, card.item, card.kind, card.state)]
    lines += [f"  complaint: {card.complaint}"] if card.complaint else []
    for each in job.standing:
        part = next(used) if each.kind is LineKind.PART else None
        lines.append(f"  {each.number}. {each.kind.value}: {f'{part.count} × {part.name}' if part else each.ref or each.text}")
    lines += ["  nothing was found"] if card.sound else []
    for line in lines:
        console().print(line, markup=False, soft_wrap=True)


def next_job(
    *, kind: Annotated[str | None, typer.Option("--kind", help="Only on items of this kind.")] = None, data: Data = None
) -> None:
    """Take the next job that waits in hand, by the day promised."""
    from foible.records.register import QueueQuery
    from foible.services.register.jobs import begin_next

    with register(data) as store:
        job = store.write(lambda turn: begin_next(turn, QueueQuery(kind=kind)), by=here(), what="the job")
    if job is None:
        console().print("No job waits.", markup=False)
    else:
        show_job(job.id, data=data)


def take_line_back(
    number: NumberArgument,
    line: Annotated[int, typer.Argument(metavar="LINE", min=1, help="The line's number, as `foible jobs show` tells it.")],
    *,
    data: Data = None,
) -> None:
    """Take a line of a job card back; parts that it used are put back into their bin."""
    from foible.records.register import take_line_back as take_back

    with register(data) as store:
        store.write(lambda turn: take_back(turn, number, line), by=here(), what="the line")
    show_job(number, data=data)


def add_job(
    code: Annotated[str, typer.Argument(metavar="CODE", help="The item's code.")],
    complaint: Annotated[list[str] | None, typer.Argument(metavar="COMPLAINT", help="What is wrong.")] = None,
    *,
    kind: Annotated[str, typer.Option("--kind", help="mend, check, rewire, new blade, new cord or set up.")] = "mend",
    promised: Annotated[
        datetime | None, typer.Option("--promised", formats=["%Y-%m-%d"], metavar="DAY", help="The day it is promised for.")
    ] = None,
    data: Data = None,
) -> None:
    """Open a job on an item."""
    from secrets import token_hex

    from foible.records.register import NewJob, item_by_code
    from foible.services.register.jobs import begun

    with register(data) as store:
        item = store.read(lambda session: item_by_code(session, code))
        new = NewJob(item.id, kind, " ".join(complaint or ()), promised=promised and promised.date(), token=token_hex(8))
        job = store.write(lambda turn: begun(turn, item, new), by=here(), what="the job")
    console().print(f"Job {job.id} on {item.code}.", markup=False)


# long: a line for each option
def done(
    number: NumberArgument,
    *,
    found: Annotated[
        list[str] | None, typer.Option("--found", metavar="FAILURE", help="A failure that was found; may be repeated.")
    ] = None,
    repair: Annotated[
        list[str] | None, typer.Option("--repair", metavar="REPAIR", help="What was done; may be repeated.")
    ] = None,
    part: Annotated[
        list[str] | None,
        typer.Option("--part", metavar="CODE", help="A part that was used, or “2 CODE” for two; may be repeated."),
    ] = None,
    proof: Annotated[list[str] | None, typer.Option("--proof", metavar="WORDS", help="What was tried and passed.")] = None,
    value: Annotated[
        list[str] | None,
        typer.Option("--measured", metavar="QUANTITY=VALUE", help="What was measured; of a line “QUANTITY=VALUE A”."),
    ] = None,
    note: Annotated[str, typer.Option("--note", help="Anything else.")] = "",
    sound: Annotated[bool, typer.Option("--sound", help="Nothing was found.")] = False,
    minutes: Annotated[float | None, typer.Option("--minutes", min=0, help="How long it took.")] = None,
    back: Annotated[bool, typer.Option("--handed-back", help="It is with its owner again.")] = False,
    data: Data = None,
    kit: KitFolders = None,
) -> None:
    """Say what was found and done on a job, which is done then."""
    from dataclasses import replace
    from secrets import token_hex

    from foible.records.register import JobState, items_by_ids, job_by_number
    from foible.services.register.jobs import Work, record_work

    parts = [("1 " + each if " " not in each.strip() else each).split(maxsplit=1) for each in part or ()]
    work = Work(
        found=tuple(found or ()),
        repairs=tuple(repair or ()),
        parts=tuple((code.strip(), _count(count)) for count, code in parts),
        proof=tuple(proof or ()),
        sound=True if sound else None,
        minutes=minutes,
        note=note,
        state=JobState.HANDED_BACK if back else JobState.DONE,
    )
    with register(data) as store:
        card = store.read(lambda session: job_by_number(session, number))
        item = store.read(lambda session: items_by_ids(session, [card.item_id]))[card.item_id]
        told = replace(work, readings=tuple(_measured(item, each) for each in value or ()))
        job = store.write(
            lambda turn: record_work(turn, number, told, version=card.version, token=token_hex(8), overlays=kit or ()),
            by=here(),
            what="the job",
        )
    console().print(f"Job {job.id} is {job.state.value}.", markup=False)


def receipt(
    number: NumberArgument,
    *,
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="The PDF to write.")],
    address: Annotated[
        str, typer.Option("--address", help="The address at which phones find Foible; by default the code alone.")
    ] = "",
    data: Data = None,
) -> None:
    """Write the receipt of a job, to be printed on A6."""
    from foible.output.receipt_pdf import receipts_pdf
    from foible.services.paperwork import receipt_of

    with register(data) as store:
        card = store.read(lambda session: receipt_of(session, number))
    write_whole(out, receipts_pdf([card], [f"{address.rstrip('/')}/i/{card.code}" if address else card.code]))
    console().print(f"The receipt of job {number} written to {out}.", markup=False, soft_wrap=True)


def _measured(item: RegisteredItem, told: str) -> NewReading:
    from foible.errors import InputError
    from foible.services.register.measuring import measured

    name, _, figure = told.rpartition("=")
    value, _, line = figure.strip().partition(" ")
    try:
        number = float(value.replace(",", "."))
    except ValueError:
        remedy = "write “the weapon's circuit, contact to contact=1.2”, of a cord with its line: “=0.4 A”"
        raise InputError(seen=f"“{told}” is no value that was measured", remedy=remedy) from None
    return measured(item, name.strip(), number, line=line)


def _count(text: str) -> int:
    from foible.errors import InputError

    if not text.isdecimal():
        raise InputError(seen=f"“{text}” is no count", remedy="write “2 CODE”, or the code alone for one")
    return int(text)
