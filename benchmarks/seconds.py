"""What trials take at the piste, one table for whatever program asks for them [s]. All of it is judgement, no source."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.kit import WHOLE_SIDE

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from foible.trials import TrialTable

__all__ = ["EXCHANGE_S", "acted_s", "trial_s"]

READING_S = 3.0
"""Reading what is asked, and telling the fencer."""
WATCHING_S = 2.0
"""Watching lamps, a meter or a test box until it is plain what they show."""
TAPPING_S = 2.0
"""Tapping the answer."""
PRESSING_S = 3.0
"""A press or cut, wherever."""
TOUCHING_S = 4.0
"""Laying one thing on another."""
MOVING_S = 3.0
"""A movement of one thing."""
FENCING_S = 12.0
"""Fencing on until something would have shown."""
UNPLUGGING_S = {"reel": 10.0, "back": 20.0, "apparatus": 35.0}
"""Undoing a connection and making it again, by where it is."""
USUAL_UNPLUGGING_S = 6.0
BRIDGING_S = 5.0
"""Holding two pins together."""
LOOKING_S = 2.0
"""Looking at one place, or feeling it."""
EXCHANGE_S = {
    "weapon": 30.0,
    "cord": 40.0,
    "mask cord": 30.0,
    "lamé": 120.0,
    "mask": 30.0,
    "cuff": 40.0,
    "bib": 60.0,
    "glove": 30.0,
    "reel": 120.0,
    "floor cable": 150.0,
    "piste": 600.0,
    "apparatus": 240.0,
}
"""Exchanging an item, by its kind."""
PUTTING_RIGHT_S = 10.0
"""Putting right at the piste what needs no exchange: a clip, a plug, a weapon resting on cloth."""
FETCHING_S = 10.0
"""Fetching what is exchanged, and the referee's leave."""


def trial_s(table: TrialTable, kinds: Mapping[str, str], newly: Collection[str]) -> float:
    """Return what a trial takes [s]; `kinds` of items by name, `newly` what is exchanged for it."""
    seconds = READING_S + TAPPING_S + sum(_exchange_s(kinds[item]) for item in newly)
    if table.examine:
        return seconds + LOOKING_S * len(table.examine)
    fencing = sum(move.startswith(f"{WHOLE_SIDE} ") for move in table.move)
    seconds += WATCHING_S + FENCING_S * fencing + MOVING_S * (len(table.move) - fencing)
    seconds += PRESSING_S * bool(table.press or table.cut) + TOUCHING_S * len(table.touching) + BRIDGING_S * len(table.bridged)
    where = [name.split()[-2] for name in table.unplugged]
    return seconds + sum(UNPLUGGING_S.get(word, USUAL_UNPLUGGING_S) for word in where)


def acted_s(kind: str, item_kind: str) -> float:
    """Return what it takes to do what is named at the end [s]; `kind` of deed, and of the item that it is done to."""
    if kind in {"exchange", "out of use"}:
        return _exchange_s(item_kind)
    return PUTTING_RIGHT_S if item_kind else 0.0


def _exchange_s(kind: str) -> float:
    return FETCHING_S + EXCHANGE_S[kind] if kind in EXCHANGE_S else PUTTING_RIGHT_S
