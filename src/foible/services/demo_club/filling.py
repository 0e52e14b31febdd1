"""Three invented seasons in, a register full of them out; the same seed and the same day make the same club."""

from __future__ import annotations

import json
from random import Random
from typing import TYPE_CHECKING, Any

from foible.records.trail import Who
from foible.services.demo_club.club import club_file, kit_of
from foible.services.demo_club.seasons import Seasons
from foible.services.register.kinds import kinds

if TYPE_CHECKING:
    from datetime import date

    from foible.services.transfer.taking import Transfer

__all__ = ["demo_rows", "fill_register"]

SEED = 2718


def demo_rows(today: date, seed: int = SEED) -> dict[str, list[dict[str, Any]]]:
    """Return the tables of the invented club, three seasons old on a day, as an import reads them."""
    rng, file = Random(seed), club_file()  # noqa: S311 — nothing here is a secret
    club = kit_of(file, {kind.name: kind.letter for kind in kinds().values()}, rng, today=today)
    seasons = Seasons(club, rng, today)
    seasons.pass_by()
    return {
        "people": club.people,
        "items": [*(thing.row for thing in club.things), *club.instruments],
        "parts": seasons.parts,
        "jobs": seasons.jobs,
        "lines": seasons.lines,
        "moves": seasons.moves,
        "readings": seasons.readings,
        "loans": seasons.loans,
    }


def fill_register(transfer: Transfer, today: date) -> bool:
    """Keep the invented club in a register that has no item yet, and return whether it was; all of it or nothing."""
    if not transfer.store.is_empty():
        return False
    raw = json.dumps(demo_rows(today), ensure_ascii=False).encode()
    transfer.take(transfer.tried(raw, name="the demo"), by=Who())
    return True
