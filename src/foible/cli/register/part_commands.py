"""The `parts` commands: what is in stock, what was counted, what to order."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from foible.cli.options import Data, KitFolders
from foible.cli.register.opened import added, here, register, told
from foible.cli.terminal import console, write_whole
from foible.errors import InputError

__all__ = ["add_part", "bring_in_parts", "change_part", "count", "list_parts", "order", "show_part"]

PartArgument = Annotated[str, typer.Argument(metavar="CODE", help="The part's code.")]


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


def show_part(code: PartArgument, *, data: Data = None) -> None:
    """Show a part, and what came and went of it lately."""
    from foible.output.words import money_words
    from foible.records.register import moves_of, part_by_code

    with register(data) as store:
        part = store.read(lambda session: part_by_code(session, code))
        moves = store.read(lambda session: moves_of(session, part.id))
    least = f"at least {part.least}" if part.least else ""
    price = "" if part.price is None else money_words(part.price)
    lines = [told(part.code, part.name, part.bin, part.count, least, price, part.made_by, part.supplier)]
    lines += [f"  {move.at:%Y-%m-%d} {move.change:+d} {move.why.value}" for move in moves]
    for line in lines:
        console().print(line, markup=False, soft_wrap=True)


def change_part(
    code: PartArgument,
    *,
    name: Annotated[str | None, typer.Option("--name", help="What it is.")] = None,
    least: Annotated[int | None, typer.Option("--least", min=0, help="As many as should always be there.")] = None,
    bin_: Annotated[str | None, typer.Option("--bin", help="Where they lie.")] = None,
    price: Annotated[str | None, typer.Option("--price", help="Of one, such as 1.20.")] = None,
    supplier: Annotated[str | None, typer.Option("--supplier", help="Where they are bought.")] = None,
    data: Data = None,
) -> None:
    """Change what is said of a part; what is left out stays."""
    from foible.records.register import change_part as change
    from foible.records.register import part_by_code
    from foible.services.register.items import check_money
    from foible.services.transfer import table_named

    given: dict[str, Any] = {"name": name, "least": least, "bin": bin_, "supplier": supplier}
    given["price"] = price and table_named("parts").named("price").value(price)
    check_money(given["price"])
    wanted = {key: value for key, value in given.items() if value is not None}
    with register(data) as store:
        version = store.read(lambda session: part_by_code(session, code)).version
        store.write(lambda turn: change(turn, code, wanted, version=version), by=here(), what="the part")
    show_part(code, data=data)


def bring_in_parts(
    code: PartArgument,
    number: Annotated[int, typer.Argument(metavar="COUNT", min=1, help="How many came in.")],
    *,
    data: Data = None,
) -> None:
    """Add parts that came in."""
    from foible.records.register import bring_in

    with register(data) as store:
        part = store.write(lambda turn: bring_in(turn, code, number), by=here(), what="the parts")
    console().print(f"{part.code}: {part.count} × {part.name}.", markup=False)


def count(
    code: PartArgument,
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
