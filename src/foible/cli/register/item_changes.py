"""The `items` commands that change one: what is said of it, lent, back, measured."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Annotated, Any

import typer

from foible.cli.options import Data, KitFolders
from foible.cli.register.opened import here, register, told
from foible.cli.terminal import console

if TYPE_CHECKING:
    from foible.records.register import RegisteredItem

__all__ = ["change_item", "lend_item", "measure_item", "take_item_back"]

CodeArgument = Annotated[str, typer.Argument(metavar="CODE", help="The item's code.")]
DAY = ["%Y-%m-%d"]


# long: a line for each option
def change_item(
    code: CodeArgument,
    *,
    name: Annotated[str | None, typer.Option("--name", help="What the club calls it.")] = None,
    owner: Annotated[
        int | None, typer.Option("--owner", metavar="NUMBER", min=0, help="Whose it is, by number; 0 is the club's own.")
    ] = None,
    fitted: Annotated[
        str | None, typer.Option("--fitted", metavar="FITTINGS", help="What is fitted, such as “socket: bayonet”.")
    ] = None,
    price: Annotated[str | None, typer.Option("--price", help="What it cost, such as 24.50.")] = None,
    check_due: Annotated[
        datetime | None, typer.Option("--check-due", formats=DAY, metavar="DAY", help="When it is due to be checked.")
    ] = None,
    notes: Annotated[str | None, typer.Option("--notes", help="What else there is to say.")] = None,
    state: Annotated[str | None, typer.Option("--state", help="in use, failed, retired or lost.")] = None,
    data: Data = None,
    kit: KitFolders = None,
) -> None:
    """Change what is said of an item; what is left out stays."""
    from foible.records.register import item_by_code
    from foible.services.register.items import revise_item, state_change
    from foible.services.transfer import table_named

    table = table_named("items")
    given: dict[str, Any] = {"name": name, "notes": notes, "check_due": check_due and check_due.date()}
    given |= {"fitted": fitted and table.named("fitted").value(fitted), "price": price and table.named("price").value(price)}
    wanted = {key: value for key, value in given.items() if value is not None}
    if owner is not None:
        wanted["owner_id"] = owner or None
    with register(data) as store:
        wanted |= state_change(state, store.clock().date()) if state else {}
        seen = store.read(lambda session: item_by_code(session, code))
        changed = store.write(
            lambda turn: revise_item(turn, seen, wanted, version=seen.version, overlays=kit or ()), by=here(), what="the item"
        )
    _tell(changed)


def lend_item(
    code: CodeArgument,
    to: Annotated[int, typer.Argument(metavar="NUMBER", min=1, help="To whom, as `foible people list` numbers them.")],
    *,
    until: Annotated[datetime | None, typer.Option("--until", formats=DAY, metavar="DAY", help="When it is due back.")] = None,
    data: Data = None,
) -> None:
    """Lend an item."""
    from foible.records.register import item_by_code, lend

    with register(data) as store:
        version = store.read(lambda session: item_by_code(session, code)).version
        day = until and until.date()
        store.write(lambda turn: lend(turn, code, to, until=day, version=version), by=here(), what="the loan")
        _tell(store.read(lambda session: item_by_code(session, code)))


def take_item_back(
    code: CodeArgument,
    found: Annotated[list[str] | None, typer.Argument(metavar="FOUND", help="In what state it came back.")] = None,
    *,
    failed: Annotated[bool, typer.Option("--failed", help="It is out of order.")] = False,
    data: Data = None,
) -> None:
    """Take a lent item back."""
    from foible.records.register import ItemState, give_back

    state = ItemState.FAILED if failed else ItemState.IN_USE
    with register(data) as store:
        _tell(
            store.write(
                lambda turn: give_back(turn, code, back_state=" ".join(found or ()), state=state), by=here(), what="the loan"
            )
        )


def measure_item(
    code: CodeArgument,
    quantity: Annotated[str, typer.Argument(metavar="QUANTITY", help="What was measured; a wrong name lists those there are.")],
    value: Annotated[float, typer.Argument(metavar="VALUE", help="What the meter or gauge shows, in the unit of its limit.")],
    *,
    line: Annotated[str, typer.Option("--line", help="The line of a cord: A, B or C.")] = "",
    data: Data = None,
) -> None:
    """Keep a value measured on an item, and hold it against the rules."""
    from foible.records.register import add_reading, item_by_code
    from foible.services.register.measuring import measured

    with register(data) as store:
        item = store.read(lambda session: item_by_code(session, code))
        new = measured(item, quantity, value, line=line)
        made = store.write(lambda turn: add_reading(turn, item.id, new), by=here(), what="the reading")
    verdict = {True: "within the limit", False: "beyond the limit", None: ""}[made.passed]
    console().print(told(f"{made.value:g} {made.unit}", verdict, made.clause), markup=False, soft_wrap=True)


def _tell(item: RegisteredItem) -> None:
    console().print(told(item.code, item.name, item.state.value), markup=False, soft_wrap=True)
