"""A rehearsals file in; its scenarios out, as README.md defines them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pydantic import Field

from foible.tomlfile import Strict, read_model

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["BadStep", "Behaviour", "Cure", "Scenario", "Truth", "scenarios"]

Words = tuple[str, ...]


class Truth(Strict):
    """One fault of a scenario."""

    part: str | None = None
    mode: str | None = None
    words: str = ""
    stand_in_part: str | None = None
    stand_in_mode: str | None = None
    ohms: float | str = "open"
    shows: dict[str, float] | None = None


class BadStep(Strict):
    """A step that a master would not make."""

    step: str
    say: str
    times: int = 1
    before: Words = ()
    after: Words = ()


class Answer(Strict):
    """What the lamps show in one arrangement."""

    step: str
    saw: Words
    by_hand: bool = False


class Cure(Strict):
    """A trial after which a fault is gone for a while."""

    step: str
    chance: float
    back: dict[str, float] = Field(default_factory=dict)


class Find(Strict):
    """What the eye finds at a part."""

    look: str
    found: str
    chance: float


class GaugeResult(Strict):
    """What a gauge says."""

    gauge: str
    found: str


class ReadingResult(Strict):
    """What a meter reads."""

    meter: str
    reads: str
    press: str | None = None
    move: str | None = None


class BoxResult(Strict):
    """What lights on a test box."""

    box: str
    lights: Words
    press: str | None = None
    move: str | None = None


class Behaviour(Strict):
    """What the trials of a scenario show."""

    present: str
    shows: dict[str, float] | None = None
    mirrored: bool = False
    answers: tuple[Answer, ...] = ()
    finds: tuple[Find, ...] = ()
    gauges: tuple[GaugeResult, ...] = ()
    reads: tuple[ReadingResult, ...] = ()
    lights: tuple[BoxResult, ...] = ()
    cures: tuple[Cure, ...] = ()


class Scenario(Strict):
    """One rehearsal."""

    id: str
    title: str
    weapon: str
    kind: str
    tags: Words = ()
    place: str
    item: str | None = None
    tools: Words
    side: str
    complaint: str
    complaint_is_foibles: bool
    told: str = ""
    start: tuple[dict[str, Any], ...]
    truth: tuple[Truth, ...]
    good_steps: tuple[Words, ...]
    settled_by: tuple[Words, ...] = ()
    bad_steps: tuple[BadStep, ...] = ()
    ends: Words
    ends_half: Words = ()
    proof: Words = ()
    rule: str = ""
    max_trials: int
    max_seconds: float
    source: str = ""
    note: str = ""
    behaviour: Behaviour


class File(Strict):
    """A rehearsals file."""

    format: int = 1
    scenario: tuple[Scenario, ...]


def scenarios(path: Path) -> tuple[Scenario, ...]:
    """Return the scenarios of a file. Raises ProblemsError."""
    return read_model(File, path).scenario
