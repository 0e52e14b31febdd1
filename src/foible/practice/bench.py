"""A failure in; out, how it is staged on real kit without harm and undone again, or why it is not staged.

The ways are data: a kind of item, a part and a mode, as patterns. The first that fits a failure counts.
"""

from __future__ import annotations

import re
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import Field

from foible.tomlfile import Strict, Words, read_model

if TYPE_CHECKING:
    from foible.kit import Failure, Setup

__all__ = ["Refusal", "StagedWay", "staged_way"]

FILE = Path(str(files("foible.practice") / "data" / "bench.toml"))


class _Fitting(Strict):
    """What a table is about."""

    kinds: Words = Field(min_length=1)
    """Kinds of items."""
    parts: Words = (".*",)
    """Patterns of the part's name, of which one fits all of it."""
    modes: Words = (".*",)
    """Patterns of the mode."""

    def fits(self, kind: str, part: str, mode: str) -> bool:
        """Return whether it is about a failure."""
        return (
            kind in self.kinds
            and any(re.fullmatch(pattern, part) for pattern in self.parts)
            and any(re.fullmatch(pattern, mode) for pattern in self.modes)
        )


class StagedWay(_Fitting):
    """How something is staged."""

    steps: Words = Field(min_length=1)
    undo: Words = Field(min_length=1)
    tools: Words = ()
    cautions: Words = ()
    ohms: float | None = None
    """The resistance that it makes [Ω]; none is open where the failure opens something, and a dead short where it joins."""
    source: str
    """Where the way comes from: a published source, or “common practice, no source”."""


class Refusal(_Fitting):
    """Why something is not staged, and what to take instead."""

    why: str


class _File(Strict):
    way: tuple[StagedWay, ...]
    refused: tuple[Refusal, ...]


def staged_way(setup: Setup, failure: Failure) -> StagedWay | Refusal | None:
    """Return how a failure is staged, or why it is not; None where the file does not say."""
    kind, part = setup.items[failure.item].kind, setup.parts[failure.part].name
    known = _ways()
    every: tuple[StagedWay | Refusal, ...] = (*known.way, *known.refused)
    return next((each for each in every if each.fits(kind, part, failure.mode)), None)


@lru_cache(maxsize=1)
def _ways() -> _File:
    return read_model(_File, FILE)
