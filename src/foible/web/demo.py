"""The demo: cases of the invented Lanternfield club at its invented Autumn Open."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from foible.tomlfile import Strict, read_model

if TYPE_CHECKING:
    from foible.services.cases import Cases

__all__ = ["fill"]


class _DemoCase(Strict):
    weapon: str
    say: str
    """What the fencer says."""
    side: Literal["left", "right"]
    title: str


class _DemoFile(Strict):
    case: tuple[_DemoCase, ...]


def fill(cases: Cases) -> None:
    """Open the demo's cases where there is none yet."""
    if cases.store.count():
        return
    for number, each in enumerate(read_model(_DemoFile, Path(str(files("foible.web") / "demo.toml"))).case):
        cases.open_complaint(each.weapon, each.say, each.side, title=each.title, token=f"demo-{number}")
