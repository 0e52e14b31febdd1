"""Where a case stands in; out, what its act band offers: what was done in one tap each, and how the case may end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.diagnosis import Kind
from foible.endings import CaseEnding
from foible.kit import job_parts

if TYPE_CHECKING:
    from foible.diagnosis import Act
    from foible.services.cases import Standing
    from foible.services.verdict import Act as ToDo
    from foible.services.verdict import Verdict

__all__ = ["Band", "Deed", "band_of"]

CHOICES = 30
"""Repairs to choose from beside the likeliest."""
ENDINGS = {
    CaseEnding.NOT_NOW: "it does not happen now",
    CaseEnding.NO_FAULT: "no fault found",
    CaseEnding.OUT_OF_USE: "out of use",
    CaseEnding.WORKSHOP: "to the workshop",
}
"""The endings that need nothing put right, and what their buttons say."""
_ENDS_AS = {
    Kind.NOTHING_WRONG: CaseEnding.NO_FAULT,
    Kind.UNKNOWN: CaseEnding.WORKSHOP,
    Kind.OUT_OF_USE: CaseEnding.OUT_OF_USE,
}


@dataclass(frozen=True)
class Deed:
    """One button: something that was exchanged or mended, or an ending."""

    words: str
    exchanged: tuple[str, ...] = ()
    mended: tuple[str, ...] = ()
    ending: CaseEnding | None = None
    item: str = ""
    """What an ending is about."""


@dataclass(frozen=True)
class Band:
    """What can be tapped once something was done, or where nothing more is to be tried."""

    deeds: tuple[Deed, ...]
    """What the advice asks for in front, then its alternative."""
    endings: tuple[Deed, ...]
    items: tuple[tuple[str, str], ...]
    """(item, what screens call it) of everything that can be exchanged, the most suspected first."""
    repairs: tuple[str, ...]
    """Repairs as “item: repair”, the likeliest first."""
    part: str
    """The first suspect of the item that is acted on, whose page says how; "" where nothing is suspected."""


def band_of(standing: Standing, verdict: Verdict) -> Band:
    """Return what the act band of a case offers."""
    setup, finding = standing.case.setup, standing.diagnosis.finding
    ranked = [share.name for share in finding.items]
    order = sorted(setup.items, key=lambda name: ranked.index(name) if name in ranked else len(ranked))
    repairs = dict.fromkeys(suspect.failure.job for suspect in finding.suspects if suspect.failure.repair)
    deeds = _asked(standing, verdict.act) if verdict.act else _likeliest(standing)
    about = next((deed.item for deed in verdict.act.ending.acts if deed.item), "") if verdict.act else ""
    about = about or (ranked[0] if ranked and standing.case.trials else "")
    taken = {deed.ending for deed in deeds}
    things = (setup.items[name] for name in order)
    return Band(
        deeds=deeds,
        endings=tuple(Deed(words, ending=each, item=about) for each, words in ENDINGS.items() if each not in taken),
        items=tuple((thing.id, thing.words) for thing in things if thing.exchange_s is not None and not thing.tool),
        repairs=tuple(repairs)[:CHOICES],
        part=next((suspect.part for suspect in finding.suspects if suspect.item == about), ""),
    )


def _asked(standing: Standing, to_do: ToDo) -> tuple[Deed, ...]:
    """Return the buttons for what the advice asks for."""
    acts = to_do.ending.acts
    if len(acts) > 1:
        exchanged = tuple(act.item for act in acts if not act.repair)
        return (Deed("both done", exchanged, tuple(act.repair for act in acts if act.repair)), *_each(standing, acts[0]))
    ending = _ENDS_AS.get(acts[0].kind)
    if ending:
        return (Deed(ENDINGS[ending], ending=ending, item=acts[0].item),)
    return _each(standing, acts[0])


def _likeliest(standing: Standing) -> tuple[Deed, ...]:
    """Return the buttons for the most suspected item, where nothing is asked for yet."""
    items = standing.diagnosis.finding.items
    if not items or not standing.case.trials:
        return ()
    item = items[0].name
    return _deeds(standing, item, _repair_of(standing, item), mend_first=False)


def _each(standing: Standing, act: Act) -> tuple[Deed, ...]:
    return _deeds(standing, act.item, act.repair or _repair_of(standing, act.item), mend_first=bool(act.repair))


def _deeds(standing: Standing, item: str, repair: str, *, mend_first: bool) -> tuple[Deed, ...]:
    """Return “exchanged it” and “mended it” for an item, the one that is asked for in front."""
    deeds = []
    if standing.case.setup.items[item].exchange_s is not None:
        stays = item in standing.exchanged
        deeds.append(Deed(f"{item}: {'it stays exchanged' if stays else 'exchanged it'}", exchanged=(item,)))
    if repair:
        what = job_parts(repair)[1] or repair
        done = "done" if standing.case.setup.items[item].handling else "mended it"
        deeds.append(Deed(f"{done}: {what}", mended=(repair,)))
    return tuple(reversed(deeds)) if mend_first else tuple(deeds)


def _repair_of(standing: Standing, item: str) -> str:
    """Return the likeliest repair of an item; "" where the kit names none."""
    found = (suspect.failure for suspect in standing.diagnosis.finding.suspects if suspect.item == item)
    return next((failure.job for failure in found if failure.repair), "")
