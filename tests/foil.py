"""The foil set-up for tests: lamps of an arrangement with resistances put in, by the direct way."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from foible.apparatus import TERMINALS, Lamp, foil_lamps, load_profile
from foible.circuit import Shape, conductances_of
from foible.diagnosis.effects import Edits, failed_network
from foible.kit import SIDES, Setup, load_setup
from foible.trials import Arrangement, TrialTable, arranged, read_trial

if TYPE_CHECKING:
    from collections.abc import Mapping


@lru_cache
def setup() -> Setup:
    """Return the shipped foil set-up."""
    return load_setup("foil")


def arrangement(**keys: object) -> Arrangement:
    """Return an arrangement written as in a case file."""
    trial, wrong = read_trial(setup(), TrialTable.model_validate({**keys, "saw": "nothing"}))
    assert not wrong, wrong
    return trial.arrangement


def lamps(
    made: Arrangement,
    *,
    put_in: Mapping[str, float] | None = None,
    across: Mapping[tuple[str, str], float] | None = None,
    profile: str = "fie-2026-foil",
) -> dict[str, float]:
    """Return the probability of every lamp, such as ``{"left white": 1.0, ...}``.

    `put_in`: ohms in series with parts. `across`: ohms between two places.
    """
    kit = setup()
    joined = tuple(((kit.places[a], kit.places[b]), ohms) for (a, b), ohms in (across or {}).items())
    edits = Edits(tuple((put_in or {}).items()), (), joined)
    network = failed_network(arranged(kit, made).network(kit.network), edits)
    shape = Shape.of(network, TERMINALS)
    table = foil_lamps(load_profile(profile), shape, shape.conductances(conductances_of(network)))[0]
    return {f"{side} {lamp.name.lower()}": float(table[number, lamp]) for number, side in enumerate(SIDES) for lamp in Lamp}


def lit(made: Arrangement, **how: object) -> set[str]:
    """Return the lamps that light; each must light or stay dark for sure."""
    chances = lamps(made, **how)  # type: ignore[arg-type]
    unsure = {lamp: chance for lamp, chance in chances.items() if 0 < chance < 1}
    assert not unsure, f"the rule leaves these open: {unsure}"
    return {lamp for lamp, chance in chances.items() if chance == 1}


def conducting(*beginnings: str) -> list[str]:
    """Return the conducting parts whose names begin with any of `beginnings`."""
    return [part.id for part in setup().parts.values() if part.conducts and part.id.startswith(beginnings)]
