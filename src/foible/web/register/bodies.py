"""What is sent to the register's API, and how its plain values are sent back. docs/json.md describes the keys."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from typing import Annotated, Any, Literal

from fastapi import Path
from pydantic import BaseModel, ConfigDict, Field

from foible.records.register.turn import plain_value
from foible.web.register.asking import FIRST_DAY, LAST_DAY

__all__ = [
    "BackBody",
    "CountBody",
    "EraseBody",
    "ItemBody",
    "ItemChanges",
    "JobBody",
    "LoanBody",
    "Number",
    "PartBody",
    "PartChanges",
    "PersonBody",
    "PersonChanges",
    "ReadingBody",
    "SignInBody",
    "WorkBody",
    "said",
    "value_json",
]

Number = Annotated[int, Path(ge=1, le=2**31 - 1)]
Id = Annotated[int, Field(ge=1, le=2**31 - 1)]
Name = Annotated[str, Field(max_length=200)]
Text = Annotated[str, Field(max_length=2000)]
Token = Annotated[str, Field(min_length=4, max_length=30)]
Version = Annotated[int, Field(ge=1, le=2**31 - 1)]
Count = Annotated[int, Field(ge=0, le=100_000)]
Day = Annotated[date, Field(ge=FIRST_DAY, le=LAST_DAY)]
Figure = Annotated[float, Field(allow_inf_nan=False)]
Squares = Annotated[list[Annotated[list[Figure], Field(max_length=100)]], Field(max_length=100)]
UNTOLD = {"token", "photo", "secret"}
"""What only this program uses."""


class _Body(BaseModel):
    model_config = ConfigDict(extra="forbid")


class _ItemFields(_Body):
    name: Name = ""
    fitted: dict[Name, Name] = Field(default_factory=dict)
    made_by: dict[Name, Name] = Field(default_factory=dict)
    owner_id: Id | None = None
    bought: Day | None = None
    first_used: Day | None = None
    price: int | None = None
    check_due: Day | None = None
    notes: Text = ""


class ItemBody(_ItemFields):
    """An item to be registered."""

    kind: Name
    weapon: Name = ""
    token: Token


class ItemChanges(_ItemFields):
    """What is to be changed of an item; what is left out stays."""

    version: Version
    state: Name = ""


class LoanBody(_Body):
    """To whom an item is lent, and until when."""

    to_id: Id
    until: Day | None = None
    version: Version
    token: Token


class BackBody(_Body):
    """In what state an item came back."""

    back_state: Annotated[str, Field(max_length=500)] = ""
    failed: bool = False


class MeasuredBody(_Body):
    """A value measured."""

    quantity: Name
    value: Figure
    line: Name = ""


class ReadingBody(_Body):
    """A value measured on an item, or the rows of a map of a lamé, of which the worst is the value."""

    quantity: Name
    value: Figure | None = None
    line: Name = ""
    map: Squares = []
    token: Token


class JobBody(_Body):
    """A job to be opened."""

    item: Name
    kind: Name = "mend"
    complaint: Text = ""
    promised: Day | None = None
    token: Token


class WorkBody(_Body):
    """What was done on a job."""

    version: Version
    found: list[Name] = []
    repairs: list[Name] = []
    parts: dict[Name, Annotated[int, Field(ge=1, le=1000)]] = Field(default_factory=dict)
    steps: list[Text] = []
    measured: list[MeasuredBody] = []
    proof: list[Text] = []
    note: Text = ""
    state: Name = ""
    sound: bool | None = None
    minutes: Figure | None = None
    promised: Day | None = None
    again: bool = False
    """Whether a job that was finished is taken up again."""
    token: Token


class _PartFields(_Body):
    name: Name = ""
    made_by: Name = ""
    bin: Name = ""
    supplier: Name = ""
    price: int | None = None
    least: Count = 0


class PartBody(_PartFields):
    """A part to be kept in stock."""

    count: Count = 0
    token: Token


class PartChanges(_PartFields):
    """What is to be changed of a part; what is left out stays."""

    version: Version


class CountBody(_Body):
    """How many came in, or were counted; a count needs the version that was seen."""

    count: Count
    version: Version | None = None
    token: Token


class _PersonFields(_Body):
    name: Name = ""
    club: Name = ""
    contact: Name = ""
    login: Name = ""
    role: Name = ""
    secret: Name = ""


class PersonBody(_PersonFields):
    """A person or a club to be added."""

    kind: Name = "person"
    token: Token


class PersonChanges(_PersonFields):
    """What is to be changed of a person; what is left out stays."""

    version: Version


class EraseBody(_Body):
    """That somebody is to be erased for good."""

    for_good: Literal[True]


class SignInBody(_Body):
    """Who signs in."""

    login: Name
    secret: Name


def said(body: BaseModel, *others: str) -> dict[str, Any]:
    """Return the fields that a body says, but for some others and what is told of every change."""
    return {name: getattr(body, name) for name in sorted(body.model_fields_set - {"version", "token", *others})}


def value_json(value: Any) -> dict[str, Any]:  # noqa: ANN401 — any of the register's plain values
    """Return a plain value of the register as JSON."""
    return {key: plain_value(each) for key, each in asdict(value).items() if key not in UNTOLD}
