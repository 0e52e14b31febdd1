"""Rule profiles: from which resistance on an apparatus takes a circuit for open, with the gaps that the rules leave."""

from __future__ import annotations

import math
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Self

import numpy as np
from pydantic import Field, model_validator

from foible.errors import UnknownNameError
from foible.kit.tomlfile import Strict, read_model

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

__all__ = ["Gap", "Profile", "load_profile", "profile_names"]


@dataclass(frozen=True, slots=True)
class Gap:
    """Closed for sure up to `closed_to` [Ω], open for sure from `open_from` [Ω], either in between."""

    closed_to: float
    open_from: float

    def chance_open(self, ohms: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the probability that each resistance [Ω] counts as open; same shape.

        The threshold is taken as log-uniform over the gap, so the probability rises with log(ohms).
        """
        width = math.log(self.open_from / self.closed_to)
        with np.errstate(divide="ignore"):
            return np.asarray(np.clip(np.log(ohms / self.closed_to) / width, 0.0, 1.0))


@dataclass(frozen=True, slots=True)
class Profile:
    """What an apparatus makes of the resistances it measures."""

    name: str
    weapon: str
    title: str
    anti_blocking: bool
    loop: Gap
    target: Gap
    leak: Gap


class _Head(Strict):
    name: str
    weapon: str
    title: str
    anti_blocking: bool


class _GapTable(Strict):
    closed_to: float = Field(gt=0)
    kit: float = Field(ge=0)
    open_from: float
    clause: str

    @model_validator(mode="after")
    def _gap_is_a_gap(self) -> Self:
        if self.open_from <= self.closed_to + self.kit:
            msg = f"open_from must lie above closed_to + kit = {self.closed_to + self.kit:g} Ω"
            raise ValueError(msg)
        return self

    def gap(self) -> Gap:
        return Gap(self.closed_to + self.kit, self.open_from)


class _ProfileFile(Strict):
    profile: _Head
    loop: _GapTable
    target: _GapTable
    leak: _GapTable


def _folders(overlays: Sequence[Path]) -> list[Path]:
    return [Path(str(files("foible.apparatus") / "data")), *(folder / "profiles" for folder in overlays)]


def profile_names(overlays: Sequence[Path] = ()) -> list[str]:
    """Return the names of all profiles."""
    return sorted({path.stem for folder in _folders(overlays) for path in folder.glob("*.toml")})


def load_profile(name: str, overlays: Sequence[Path] = ()) -> Profile:
    """Return a profile by name; `overlays` are kit folders whose `profiles/` is looked at first."""
    for folder in reversed(_folders(overlays)):
        path = folder / f"{name}.toml"
        if name in profile_names(overlays) and path.is_file():
            data = read_model(_ProfileFile, path)
            head = data.profile
            return Profile(
                head.name,
                head.weapon,
                head.title,
                head.anti_blocking,
                data.loop.gap(),
                data.target.gap(),
                data.leak.gap(),
            )
    raise UnknownNameError(what="rule profile", name=name, known=profile_names(overlays))
