"""Words of the catalogue and of the kit in, words for paper out: short, and from where the fencer who complains stands.

At the piste the fencer who complains may be on either side, so a card says “the fencer's” and “the opponent's”, where everything
else says “left” and “right”; of lamps and items it says “own” and “opponent's”. On the bench there is only one item.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from foible.kit import job_parts

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["STICKS", "asked", "lasting", "named", "readings", "seen", "share_of"]

STICKS = "\N{NO-BREAK SPACE}"
"""Stands between a figure and what it belongs to."""
MINUTES_FROM = 100
"""From this many seconds on, a time is given in minutes [s]."""
READING = re.compile(r"(?:under )?([\d.]+)(?: to ([\d.]+))? Ω")
ASKED = (("left fencer", "fencer"), ("right fencer", "opponent"), ("left", "fencer's"), ("right", "opponent's"))
SEEN = (("left", "own"), ("right", "opponent's"))
GOOD = " for a known-good one"
"""What every exchange on a card is for; its head says so."""
HANDLING = re.compile(r"(own|opponent's) handling: ")


def asked(say: str, *, sides: bool) -> str:
    """Return what a trial asks for; `sides` is whether sides are told by who complains."""
    return _turned(say.replace(GOOD, ""), ASKED) if sides else say


def seen(words: str, *, sides: bool) -> str:
    """Return what a trial shows."""
    return _turned(words.replace(", ", " and "), SEEN) if sides else words.replace(", ", " and ")


def named(aim: str, item: str | None, *, sides: bool) -> str:
    """Return an aim, without the item that the whole card is about."""
    about, repair = job_parts(aim)
    if repair and about == item:
        return repair
    if not sides:
        return aim
    turned = _turned(aim, SEEN)
    return HANDLING.sub(lambda found: "" if found[1] == "own" else "opponent: ", turned)


def _turned(text: str, pairs: Sequence[tuple[str, str]]) -> str:
    for side, word in pairs:
        text = re.sub(rf"\b{side}\b", word, text)
    return text


def readings(words: Sequence[str]) -> list[str]:
    """Return outcomes with neighbouring meter ranges joined: “0.5 to 1 Ω” and “1 to 2 Ω” as “0.5 to 2 Ω”."""
    drawn: list[str] = []
    for word in words:
        before, now = (READING.fullmatch(drawn[-1]) if drawn else None), READING.fullmatch(word)
        if before and now and now[2] and now[1] == (before[2] or before[1]):
            drawn[-1] = f"{before[1]} to {now[2]} Ω" if before[2] else f"under {now[2]} Ω"
        else:
            drawn.append(word)
    return drawn


def share_of(share: float) -> str:
    """Return a share in per cent, never 0 or 100."""
    return "under 1%" if share < 0.005 else "over 99%" if share >= 0.995 else f"{share:.0%}"  # noqa: PLR2004 — half a hundredth


def lasting(seconds: float) -> str:
    """Return a time in seconds or minutes."""
    return f"{seconds / 60:.3g}{STICKS}min" if seconds >= MINUTES_FROM else f"{seconds:.0f}{STICKS}s"
