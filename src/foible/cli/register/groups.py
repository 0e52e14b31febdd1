"""Which commands there are for items, jobs and parts, and what the three groups are called."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.cli.register.item_commands import add_item, labels, list_items, show_item
from foible.cli.register.job_commands import add_job, done, list_jobs, receipt, show_job
from foible.cli.register.part_commands import add_part, count, list_parts, order
from foible.cli.register.tables import give_out, take_in

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["ITEMS", "JOBS", "PARTS"]

ITEMS: dict[str, Callable[..., None]] = {
    "list": list_items,
    "show": show_item,
    "add": add_item,
    "labels": labels,
    "import": take_in,
    "export": give_out,
}
JOBS: dict[str, Callable[..., None]] = {
    "list": list_jobs,
    "show": show_job,
    "add": add_job,
    "done": done,
    "receipt": receipt,
}
PARTS: dict[str, Callable[..., None]] = {"list": list_parts, "add": add_part, "count": count, "order": order}
