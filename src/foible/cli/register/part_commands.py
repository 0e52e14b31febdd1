"""The `parts` commands: what is in stock, what was counted, what to order."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from foible.cli.options import Data, KitFolders
from foible.cli.register.opened import added, here, register, told
from foible.cli.terminal import console, write_whole
from foible.errors import InputError

__all__ = ["add_part", "count", "list_parts", "order"]


def list_parts(
    *, short: Annotated[bool, typer.Option("--short", help="Only parts of which there are too few.")] = False, data: Data = None
) -> None:
    """List the parts in stock, by bin."""
    from foible.records.register import parts_in_stock

    with register(data) as store:
        found = store.read(lambda session: parts_in_stock(session, short=short))
    for part in found:
        least = f"at least {part.least}" if part.least else ""
        console().print(told(part.code, part.name, part.bin, part.count, least), markup=False, soft_wrap=True)
    if not found:
        console().print("There is enough of everything." if short else "No part is registered yet.", markup=False)


def add_part(
    name: Annotated[str, typer.Argument(metavar="NAME", help="What it is, such as “pressure spring”.")],
    *,
    count: Annotated[int, typer.Option("--count", min=0, help="How many there are.")] = 0,
    least: Annotated[int, typer.Option("--least", min=0, help="As many as should always be there.")] = 0,
    bin_: Annotated[str, typer.Option("--bin", help="Where they lie.")] = "",
    price: Annotated[str | None, typer.Option("--price", help="Of one, such as 1.20.")] = None,
    supplier: Annotated[str, typer.Option("--supplier", help="Where they are bought.")] = "",
    fits: Annotated[str | None, typer.Option("--fits", metavar="PARTS", help="Parts of the kit that it replaces.")] = None,
    data: Data = None,
    kit: KitFolders = None,
) -> None:
    """Register a part in stock."""
    row: dict[str, object] = {"name": name, "count": count, "least": least, "bin": bin_, "price": price, "supplier": supplier}
    made = added(data, kit, "parts", row | {"fits": fits})
    console().print(f"Registered as {made['code']}.", markup=False)


def count(
    code: Annotated[str, typer.Argument(metavar="CODE", help="The part's code.")],
    number: Annotated[int, typer.Argument(metavar="COUNT", min=0, help="How many are in the bin.")],
    *,
    data: Data = None,
) -> None:
    """Set the count of a part to what is in its bin."""
    from foible.records.register import counted, part_by_code

    with register(data) as store:
        version = store.read(lambda session: part_by_code(session, code)).version
        part = store.write(lambda turn: counted(turn, code, number, version=version), by=here(), what="the count")
    console().print(f"{part.code}: {part.count} × {part.name}.", markup=False)


def order(
    *,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="A .pdf or .csv to write; by default the terminal.")
    ] = None,
    data: Data = None,
) -> None:
    """Tell what to order: of each part as many as are missing to its least count."""
    from foible.services.paperwork import orders

    with register(data) as store:
        found, today = store.read(orders), store.clock().astimezone().date()
    if out is None:
        for each in found:
            console().print(told(f"{each.order} × {each.name}", each.code, each.supplier), markup=False, soft_wrap=True)
        if not found:
            console().print("There is enough of everything.", markup=False)
        return
    from foible.output.order_list import order_csv, order_pdf

    match out.suffix.casefold():
        case ".pdf":
            content = order_pdf(found, today=today)
        case ".csv":
            content = order_csv(found)
        case _:
            raise InputError(seen=f"{out} is neither a .pdf nor a .csv", remedy="name the file order.pdf or order.csv")
    write_whole(out, content)
    console().print(f"{len(found)} part{'s' * (len(found) != 1)} to order, written to {out}.", markup=False, soft_wrap=True)
