"""The demo: cases of the invented Lanternfield club at its invented Autumn Open, and three seasons of its workshop."""

from __future__ import annotations

from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from foible.endings import ending_named
from foible.records import EntryKind, NewEntry
from foible.records.register import RegisterStore
from foible.services.cases import About
from foible.services.demo_club import fill_practice, fill_register, fill_table
from foible.services.transfer.taking import Transfer
from foible.tomlfile import Strict, read_model
from foible.trials import TrialTable  # noqa: TC001 — pydantic reads the annotations

if TYPE_CHECKING:
    from foible.services.cases import Cases

__all__ = ["fill"]


class _Deed(Strict):
    """One thing that was done: a trial or an act, an ending, or that the case was reopened."""

    trial: TrialTable | None = None
    ending: str = ""
    about: tuple[str, ...] = ()
    """What the ending is about."""
    reopened: bool = False


class _DemoCase(Strict):
    weapon: str
    say: str
    """What the fencer says."""
    side: Literal["left", "right"]
    title: str
    piste: str = ""
    fencer: str = ""
    does: tuple[_Deed, ...] = ()


class _DemoFile(Strict):
    case: tuple[_DemoCase, ...]


def fill(cases: Cases) -> None:
    """Open the demo's cases where there is none yet, and keep its club and its learners likewise. Nothing is reasoned about."""
    now = datetime.now(UTC)
    fill_register(Transfer(cases.store.database, clock=lambda: now, overlays=cases.reasoning.overlays), now.date())
    fill_table(RegisterStore(cases.store.database, clock=lambda: now), now)
    fill_practice(RegisterStore(cases.store.database, clock=lambda: now), cases.reasoning, now)
    if cases.store.count():
        return
    for number, each in enumerate(read_model(_DemoFile, Path(str(files("foible.web") / "demo.toml"))).case):
        token, about = f"demo-{number}", About(each.piste, each.fencer)
        kept = cases.open_complaint(each.weapon, each.say, each.side, title=each.title, token=token, about=about)
        for step, deed in enumerate(each.does):
            _do(cases, kept.id, deed, f"{token}-{step}")


def _do(cases: Cases, name: str, deed: _Deed, token: str) -> None:
    if deed.trial:
        cases.note(name, deed.trial, token=token)
    elif deed.ending:
        ending = ending_named(deed.ending)
        said = f"closed: {ending.value}" + (f" ({', '.join(deed.about)})" if deed.about else "")
        cases.store.end(name, NewEntry(EntryKind.END, token, say=said, names=cases.names), ending, deed.about)
    elif deed.reopened:
        cases.store.close(name, closed=False)
