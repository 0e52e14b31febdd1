"""What goes on paper from the register: labels, receipts and the order list, as plain values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.errors import InputError, NotFoundError
from foible.records.people import names_of
from foible.records.register import LineKind, item_by_code, items_by_ids, job_by_number, part_by_code, parts_in_stock
from foible.services.register.kinds import words_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import date, datetime

    from sqlalchemy.orm import Session

    from foible.records.register import Job, JobLine, RegisteredItem

__all__ = ["Named", "Order", "Receipt", "Used", "all_named", "named_things", "orders", "receipt_of"]

MOST_NAMED = 2000


@dataclass(frozen=True)
class Named:
    """A thing with a code, as a label tells it: the most important line first."""

    code: str
    lines: tuple[str, ...]


@dataclass(frozen=True)
class Used:
    """A part that a job used: what it is, how many, and what they cost in hundredths."""

    name: str
    count: int
    cost: int | None


@dataclass(frozen=True)
class Receipt:
    """What a job card tells the owner of the item."""

    number: int
    code: str
    item: str
    owner: str
    """Empty for the club's own."""
    kind: str
    complaint: str
    state: str
    opened: datetime
    promised: date | None
    done: datetime | None
    found: tuple[str, ...]
    repairs: tuple[str, ...]
    proof: tuple[str, ...]
    used: tuple[Used, ...]
    sound: bool | None

    @property
    def cost(self) -> int:
        """What the parts cost, as far as that is known, in hundredths."""
        return sum(each.cost or 0 for each in self.used)


@dataclass(frozen=True)
class Order:
    """A part of which there are too few, and how many to order."""

    code: str
    name: str
    supplier: str
    made_by: str
    bin: str
    count: int
    least: int
    order: int
    price: int | None
    """Of one, in hundredths."""

    @property
    def cost(self) -> int | None:
        """What the order comes to, in hundredths."""
        return None if self.price is None else self.price * self.order


def named_things(session: Session, codes: Sequence[str]) -> tuple[Named, ...]:
    """Return items and parts by their codes, in that order, each once. Raises NotFoundError, and InputError for too many."""
    wanted = [*dict.fromkeys(codes)]
    if len(wanted) > MOST_NAMED:
        raise InputError(seen=f"{len(wanted):,} codes are too many", remedy=f"name at most {MOST_NAMED:,} at a time")
    return tuple(_named(session, code) for code in wanted)


def all_named(session: Session, items: Iterable[RegisteredItem]) -> tuple[Named, ...]:
    """Return what labels tell of items."""
    known = list(items)
    owners = names_of(session, (item.owner_id for item in known))
    return tuple(Named(item.code, _lines(item, owners.get(item.owner_id or 0, ""))) for item in known)


def receipt_of(session: Session, number: int) -> Receipt:
    """Return what a job card tells the owner. Raises NotFoundError."""
    job = job_by_number(session, number)
    item = items_by_ids(session, [job.item_id])[job.item_id]
    owner = names_of(session, [item.owner_id]).get(item.owner_id or 0, "")
    texts = {kind: tuple(line.ref or line.text for line in _of(job, kind)) for kind in LineKind}
    return Receipt(
        number=job.id,
        code=item.code,
        item=" · ".join(filter(None, (words_of(item), item.name))),
        owner=owner,
        kind=job.kind,
        complaint=job.complaint,
        state=job.state.value,
        opened=job.opened,
        promised=job.promised,
        done=job.done,
        found=texts[LineKind.FOUND],
        repairs=(*texts[LineKind.REPAIR], *texts[LineKind.STEP]),
        proof=texts[LineKind.PROOF],
        used=tuple(Used(_part_name(session, line.ref), round(line.count or 1), line.cost) for line in _of(job, LineKind.PART)),
        sound=job.sound,
    )


def orders(session: Session) -> tuple[Order, ...]:
    """Return what to order: of every part as many as are missing to its least count, by supplier and name."""
    found = [
        Order(part.code, part.name, part.supplier, part.made_by, part.bin, part.count, part.least, part.short, part.price)
        for part in parts_in_stock(session, short=True)
    ]
    return tuple(sorted(found, key=lambda each: (each.supplier.casefold(), each.name.casefold(), each.code)))


def _named(session: Session, code: str) -> Named:
    try:
        item = item_by_code(session, code)
    except NotFoundError:
        try:
            part = part_by_code(session, code)
        except NotFoundError:
            pass
        else:
            return Named(part.code, tuple(filter(None, (part.name, part.bin and f"bin {part.bin}", part.made_by))))
        raise
    return all_named(session, [item])[0]


def _lines(item: RegisteredItem, owner: str) -> tuple[str, ...]:
    fitted = ", ".join(f"{model} {slot}" for slot, model in item.fitted.items())
    return tuple(filter(None, (words_of(item), item.name, owner, fitted)))


def _of(job: Job, kind: LineKind) -> tuple[JobLine, ...]:
    return tuple(line for line in job.standing if line.kind is kind)


def _part_name(session: Session, code: str) -> str:
    try:
        return part_by_code(session, code).name
    except NotFoundError:
        return code
