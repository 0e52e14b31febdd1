"""Which commands there are for items, jobs and parts, and what the three groups are called."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.cli.register.item_changes import change_item, lend_item, measure_item, take_item_back
from foible.cli.register.item_commands import add_item, labels, list_items, show_item
from foible.cli.register.job_commands import add_job, done, list_jobs, next_job, receipt, show_job, take_line_back
from foible.cli.register.part_commands import add_part, bring_in_parts, change_part, count, list_parts, order, show_part
from foible.cli.register.tables import give_out, take_in

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["ITEMS", "JOBS", "PARTS"]

ITEMS: dict[str, Callable[..., None]] = {
    "list": list_items,
    "show": show_item,
    "add": add_item,
    "change": change_item,
    "lend": lend_item,
    "back": take_item_back,
    "measure": measure_item,
    "labels": labels,
    "import": take_in,
    "export": give_out,
}
JOBS: dict[str, Callable[..., None]] = {
    "list": list_jobs,
    "show": show_job,
    "add": add_job,
    "next": next_job,
    "done": done,
    "undo": take_line_back,
    "receipt": receipt,
}
PARTS: dict[str, Callable[..., None]] = {
    "list": list_parts,
    "show": show_part,
    "add": add_part,
    "change": change_part,
    "in": bring_in_parts,
    "count": count,
    "order": order,
}
