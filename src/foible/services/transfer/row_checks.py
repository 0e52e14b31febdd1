"""One row of a table in, the row of the database that it becomes out: names checked, references found."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from foible.errors import InputError
from foible.records.register import PART_LETTER, ItemState, JobState, LineKind, Why, known_as
from foible.records.tables import folded
from foible.records.whole_tables import New
from foible.services.register.making import MEND
from foible.services.transfer.kit_words import ItemRef
from foible.services.transfer.known import ColumnError, FollowsError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from foible.services.transfer.known import Known

__all__ = ["CHECKS"]

STATES = tuple(state.value for state in ItemState)
JOB_STATES = tuple(state.value for state in JobState)
LINE_KINDS = tuple(kind.value for kind in LineKind)
MOVES = tuple(why.value for why in Why)
ENDED = tuple(state.value for state in JobState if not state.open)
NAMED_BY_KIT = (LineKind.FOUND.value, LineKind.REPAIR.value)
RETIRED = ItemState.RETIRED.value


@contextmanager
def _in(column: str) -> Iterator[None]:
    """Within this block, what is wrong is wrong in a column."""
    try:
        yield
    except (ColumnError, FollowsError):
        raise
    except InputError as error:
        raise ColumnError(column=column, seen=error.seen, remedy=error.remedy) from error


def _one_of(values: Mapping[str, Any], column: str, known: Sequence[str], usual: str) -> str:
    """Return a word out of a few. Raises InputError."""
    word = str(values.get(column, usual)).casefold()
    if word not in known:
        raise ColumnError(column=column, seen=f"“{values[column]}” is not known here", remedy=f"write {', '.join(known)}")
    return word


def _person(values: Mapping[str, Any], known: Known) -> None:
    name, club = values["name"], values.get("club", "")
    kind = _one_of(values, "is", ("person", "club"), "person")
    bearers = known.people.setdefault(folded(name), [])
    if any(folded(of) == folded(club) for _, of in bearers):
        raise ColumnError(
            column="name", seen=f"{name} is there already", remedy="leave the row out, or say of which club this one is"
        )
    new = known.add("people", {"kind": kind, "name": name, "club": club, "contact": values.get("contact", "")})
    bearers.append((new, club))


def _item(values: Mapping[str, Any], known: Known) -> None:
    with _in("kind"):
        kind, weapon = known.words.kind(values["kind"])
    with _in("weapon"):
        known.words.item(kind, values.get("weapon", weapon), {})
    with _in("fitted"):
        checked = known.words.item(kind, values.get("weapon", weapon), values.get("fitted", {}))
    state = _one_of(values, "state", STATES, RETIRED if "retired" in values else STATES[0])
    with _in("owner"):
        owner = known.person(values.get("owner"))
    code = known.code(values.get("code"), checked.letter)
    row = {
        "code": code,
        "kind": kind,
        "weapon": checked.weapon,
        "fitted": dict(checked.fitted),
        "state": state,
        "owner_id": owner,
    }
    row |= {"name": values.get("name", ""), "made_by": values.get("made by", {}), "notes": values.get("notes", "")}
    row |= {key: values.get(key) for key in ("bought", "retired", "price")}
    row |= {"first_used": values.get("first used"), "check_due": values.get("check due")}
    known.items[code] = ItemRef(known.add("items", row), kind, checked.weapon, checked.fitted)


def _part(values: Mapping[str, Any], known: Known) -> None:
    with _in("fits"):
        fits = [known.words.fit(word) for word in values.get("fits", ())]
    code, count = known.code(values.get("code"), PART_LETTER), values.get("count", 0)
    row = {"code": code, "name": values["name"], "fits": fits, "count": 0 if known.moved else count}
    row |= {"least": values.get("least", 0), "price": values.get("price"), "made_by": values.get("made by", "")}
    row |= {"bin": values.get("bin", ""), "supplier": values.get("supplier", "")}
    known.parts[code] = known.add("parts", row)
    if count and not known.moved:
        known.add("moves", {"part_id": known.parts[code], "change": count, "why": "counted"})


def _job(values: Mapping[str, Any], known: Known) -> None:
    item = known.item(values["item"])
    with _in("kind"):
        kind = known.words.job_kind(item, values.get("kind", MEND))
    state = _one_of(values, "state", JOB_STATES, "done" if "done" in values else "waiting")
    if (state in ENDED) != ("done" in values):
        remedy = "give its day, or another state" if state in ENDED else "leave the day out, or write done"
        raise ColumnError(
            column="done", seen=f"{state}, but {'no' if state in ENDED else 'a'} day on which it was done", remedy=remedy
        )
    if "case" in values and values["case"] not in known.cases:
        raise ColumnError(column="case", seen=f"there is no case {values['case']}", remedy="leave it out")
    with _in("by"):
        by = known.person(values.get("by"))
    if values.get("opened") and values.get("done") and values["done"] < values["opened"]:
        raise ColumnError(column="done", seen="done before it was opened", remedy="correct one of the two")
    row = {"item_id": item.id, "kind": kind, "state": state, "by_id": by}
    row |= {key: values.get(key) for key in ("sound", "minutes", "promised", "opened", "done", "evidence")}
    row |= {"complaint": values.get("complaint", ""), "case_id": values.get("case")}
    new = known.add("jobs", row)
    if "job" in values:
        if values["job"] in known.jobs:
            raise ColumnError(column="job", seen=f"two jobs are called “{values['job']}”", remedy="call each something else")
        known.jobs[values["job"]] = (new, item, [])


def _line(values: Mapping[str, Any], known: Known) -> None:
    job, item, numbers = known.job(values["job"])
    kind, ref = _one_of(values, "kind", LINE_KINDS, ""), values.get("ref", "")
    with _in("ref"):
        if kind == "part":
            known.part(ref, "ref")
            ref = known_as(ref)
        elif kind in NAMED_BY_KIT and ref:
            ref = (known.words.failure if kind == LineKind.FOUND.value else known.words.repair)(item, ref)
    with _in("by"):
        by = known.person(values.get("by"))
    numbers.append(len(numbers) + 1)
    row = {"job_id": job, "number": numbers[-1], "kind": kind, "ref": ref, "by_id": by, "text": values.get("text", "")}
    known.add("lines", row | {key: values.get(key) for key in ("count", "cost", "at")} | {"taken_back": values.get("taken back")})


def _move(values: Mapping[str, Any], known: Known) -> None:
    part, change = known.part(values["part"], "part"), values["change"]
    if not isinstance(part, New):
        raise ColumnError(column="part", seen=f"{values['part']} is in the register already", remedy="count it there instead")
    if change != int(change):
        raise ColumnError(column="change", seen=f"{change:g} is no count", remedy="write a whole number")
    known.batch["parts"][part.place]["count"] += int(change)
    row = {"part_id": part, "change": int(change), "why": _one_of(values, "why", MOVES, "counted"), "at": values.get("at")}
    with _in("by"):
        known.add("moves", row | {"by_id": known.person(values.get("by"))})


def _reading(values: Mapping[str, Any], known: Known) -> None:
    item = known.item(values["item"])
    with _in("quantity"):
        quantity, unit = known.words.quantity(item, values["quantity"])
    if values.get("unit", unit) != unit:
        raise ColumnError(column="unit", seen=f"“{values['unit']}” is not what it is measured in", remedy=f"give it in {unit}")
    instrument = known.item(values["instrument"], "instrument").id if "instrument" in values else None
    job = known.job(values["job"])[0] if "job" in values else None
    with _in("by"):
        by = known.person(values.get("by"))
    row = {"item_id": item.id, "instrument_id": instrument, "job_id": job, "by_id": by}
    row |= {"quantity": quantity, "unit": unit} | {key: values.get(key, "") for key in ("line", "clause")}
    known.add("readings", row | {key: values.get(key) for key in ("value", "passed", "map", "at")})


def _loan(values: Mapping[str, Any], known: Known) -> None:
    item = known.item(values["item"])
    with _in("to"):
        to = known.person(values["to"])
    row = {"item_id": item.id, "to_id": to, "back_state": values.get("back state", "")}
    known.add("loans", row | {key: values.get(key) for key in ("out", "until", "back")})


CHECKS: dict[str, Callable[[Mapping[str, Any], Known], None]] = {
    "people": _person,
    "items": _item,
    "parts": _part,
    "jobs": _job,
    "lines": _line,
    "moves": _move,
    "readings": _reading,
    "loans": _loan,
}
"""What turns a row of each table into one of the database, or raises InputError."""
