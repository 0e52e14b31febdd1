"""What the TOML files of the kit may hold; the files themselves say what each figure is and where it comes from."""

from __future__ import annotations

import math
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from foible.tomlfile import Strict

__all__ = [
    "AddedFailureTable",
    "ConnectionTable",
    "FailureTable",
    "FailuresFile",
    "FittingFile",
    "ItemFile",
    "LadderTable",
    "PartTable",
    "RepairTable",
    "RepairsFile",
    "SetupFile",
    "SeveritiesFile",
    "SourcesFile",
]

Share = Annotated[float, Field(ge=0, le=1)]
Ohms = Annotated[float, Field(gt=0, allow_inf_nan=True), BeforeValidator(lambda value: math.inf if value == "open" else value)]
NodePair = tuple[str, str]
FarNode = Annotated[str, Field(pattern=r"^\S.* \S+$")]
"""Item and node: “cord weapon_b”, “floor cable reel_a”."""


def _named(text: str) -> str:
    """Return a name that people can read and say. Raises ValueError."""
    if not text.strip() or not text.isprintable():
        msg = "a name needs at least one letter, and nothing that cannot be printed"
        raise ValueError(msg)
    return text


Name = Annotated[str, AfterValidator(_named)]


class FailureTable(Strict):
    """One way in which a part fails: what it does to the circuit, how often, how it looks."""

    mode: Name
    raise_: tuple[str, ...] = Field((), alias="raise")
    """Parts whose branch gets the severity in series [Ω]."""
    join: tuple[NodePair, ...] = ()
    """Nodes that get joined by the severity [Ω]."""
    set: dict[str, Ohms] = Field(default_factory=dict)
    """Parts whose branch stays at a resistance [Ω] whatever is done to it."""
    exchange: NodePair | None = None
    """Two parts whose far ends are exchanged."""
    severity: str
    rate: float = Field(gt=0)
    """How often, relative to the other failures of the kit."""
    intermittent: Share = 0.0
    """Share of these failures that come and go."""
    only: Literal["steady", "intermittent"] | None = None
    source: str
    signs: dict[str, Share] = Field(default_factory=dict)
    """What an examination shows, with its probability."""
    repair: str | None = None
    """How it is usually mended: a name of the files in repairs/."""
    when: dict[str, Annotated[float, Field(ge=0)]] = Field(default_factory=dict)
    """By how much facts of the place or the kit change the rate: names of facts with factors."""
    out_of_use: bool = False
    """Whether the item is dangerous and taken out of use."""
    gauges: dict[str, Share] = Field(default_factory=dict)
    """Gauges that fail the item, with the probability."""
    spoils: Literal["meter"] | None = None
    """A tool whose readings then mean nothing."""
    profile: str | None = None
    """The rule profile that the apparatus follows."""

    @model_validator(mode="after")
    def _does_something(self) -> Self:
        circuit = self.raise_ or self.join or self.set or self.exchange
        if not (circuit or self.profile or self.gauges or self.spoils or self.signs):
            msg = "the failure changes nothing: give raise, join, set or exchange, or the signs that the eye finds"
            raise ValueError(msg)
        if sum(self.signs.values()) > 1:
            msg = "the probabilities of the signs add up to more than 1"
            raise ValueError(msg)
        return self


class PartTable(Strict):
    """A place that can fail: a branch with `from`, `to` and `ohms`, or insulation between two nodes, or neither."""

    name: Name
    each: tuple[str, ...] = ()
    """The table stands for one part per entry, which replaces {x}, {lower}, {first}, {second}, {snake}, {plain}."""
    from_: str | None = Field(None, alias="from")
    to: str | None = None
    ohms: Annotated[float, Field(gt=0)] | None = None
    """Nominal good value [Ω]."""
    spread: float = Field(1.0, ge=1)
    """95 % of good parts lie between ohms / spread and ohms × spread."""
    look_s: Annotated[float, Field(gt=0)] | None = None
    """Seconds at the bench to open this place and see or feel it; left out, there is nothing that an armourer can look at."""
    insulates: NodePair | None = None
    source: str
    moved_by: dict[str, Share] = Field(default_factory=dict)
    """Chance that an intermittent failure here shows while the handle is worked."""
    held_by: dict[str, Share] = Field(default_factory=dict)
    """Chance that a failure here is gone while the handle is held."""
    parted_by: dict[str, Share] = Field(default_factory=dict)
    """Of the times that a failure here shows while the handle is worked, the share in which it stays: a plug comes out."""
    failure: tuple[FailureTable, ...] = ()

    @model_validator(mode="after")
    def _branch_is_whole(self) -> Self:
        given = [self.from_ is not None, self.to is not None, self.ohms is not None]
        if any(given) and not all(given):
            msg = "a part that conducts needs all of from, to and ohms"
            raise ValueError(msg)
        if all(given) and self.insulates:
            msg = "a part either conducts or insulates"
            raise ValueError(msg)
        return self


class ItemTable(Strict):
    """The head of an item file."""

    kind: str
    name: str
    exchange_s: Annotated[float, Field(gt=0)] | None = None
    """Seconds to exchange the item at the piste; left out, it cannot be exchanged."""
    main_place: str | None = None
    """The place that the item's name alone stands for; an item with one place needs none."""
    cloth: bool = False
    """Soft: its places close around a pressed point."""
    words: str | None = None
    """What screens call it where item and side do not read well, with {side}."""
    tool: bool = False
    """The armourer's own: screens leave it out until a trial has used a tool."""


class FittedTable(Strict):
    """A slot of an item that is filled from another file."""

    slot: str
    model: str
    half: Literal["socket", "plug"] = "socket"
    """Which of the two halves of the model belongs to this item."""


class PointTable(Strict):
    """What a weapon hits with, and the switches that a hit works."""

    opens: tuple[str, ...] = ()
    closes: tuple[str, ...] = ()
    face: str
    collar: str | None = None


class ItemFile(Strict):
    """One kind of item, part by part."""

    item: ItemTable
    fitted: tuple[FittedTable, ...] = ()
    point: PointTable | None = None
    places: dict[str, str] = Field(default_factory=dict)
    long: tuple[str, ...] = ()
    """Places that lie along what they touch, as a blade does."""
    broad: dict[str, tuple[str, ...]] = Field(default_factory=dict)
    """Further nodes of a place, which long things touch as well."""
    box: dict[str, str] = Field(default_factory=dict)
    """Nodes by line letter that a test box is joined to."""
    handles: dict[str, tuple[str, ...]] = Field(default_factory=dict)
    part: tuple[PartTable, ...]


class AddedFailureTable(FailureTable):
    """A failure for a part of another file."""

    part: str
    """Kind of item and name of the part: “weapon grip nut”."""


class FailuresFile(Strict):
    """Failures added to parts that are there already."""

    failure: tuple[AddedFailureTable, ...]


class RepairTable(Strict):
    """One job at the bench. Failures with the same repair are mended the same way."""

    name: str
    steps: Annotated[tuple[str, ...], Field(min_length=2, max_length=6)]
    tools: tuple[str, ...]
    supplies: tuple[str, ...]
    """What is used up."""
    minutes: Annotated[float, Field(gt=0)]
    """At the bench, glue that sets by itself not counted."""
    price: Annotated[float, Field(ge=0)]
    """Euro for the parts used."""
    piste_s: Annotated[float | None, Field(gt=0)] = None
    """At the piste, with the bout stopped [s]; left out where nobody would do it there."""
    set_up: bool = False
    """Whether it puts the strip's set-up right, rather than mending something."""
    cautions: tuple[str, ...]
    """Keys of the cautions."""
    clause: str | None = None
    """Rulebook, edition and clause, and what it forbids or asks."""
    source: str
    """Where the way of mending, or its time, comes from."""


class RepairsFile(Strict):
    """Repairs, and cautions by key."""

    repair: tuple[RepairTable, ...] = ()
    cautions: dict[str, str] = Field(default_factory=dict)


class FittingTable(Strict):
    """The head of a fitting file."""

    name: str
    plug: str | None = None
    """The socket whose plug goes into this one as well."""
    weapons: tuple[str, ...] = ()
    """The weapons for which it is offered; a case file can ask for it at any other."""


class FittingFile(Strict):
    """Parts that fill a slot: the core of a cord or jacket, or a socket with the plug that goes into it."""

    socket: FittingTable | None = None
    core: FittingTable | None = None
    part: tuple[PartTable, ...]
    plug_part: tuple[PartTable, ...] = ()


class SetupTable(Strict):
    """The head of a set-up file."""

    weapon: str
    profile: str


class ConnectionTable(Strict):
    """A plug or clip: pins by line, each joining two nodes."""

    name: str
    pins: dict[str, tuple[FarNode, FarNode]]
    bridge: str | None = None
    """The item whose pins are bridged; left out, pins of this connection cannot be bridged."""
    shared: bool = False


class SetupFile(Strict):
    """What is connected to what for one weapon."""

    setup: SetupTable
    each_side: dict[str, str]
    shared: dict[str, str]
    connection: tuple[ConnectionTable, ...]


class LadderTable(Strict):
    """Steps of severity [Ω] with the share of each."""

    ohms: tuple[Ohms, ...]
    share: tuple[Share, ...]

    @model_validator(mode="after")
    def _is_a_distribution(self) -> Self:
        if len(self.ohms) != len(self.share) or abs(sum(self.share) - 1) > 1e-6:  # noqa: PLR2004 — rounding
            msg = "ohms and share must be equally long and the shares add up to 1"
            raise ValueError(msg)
        return self


class SeveritiesFile(Strict):
    """The ladders of severity."""

    ladder: dict[str, LadderTable]


class SourcesFile(Strict):
    """Citations by key."""

    sources: dict[str, str]
