"""A strip set-up for tests: lamps of an arrangement with resistances put in, by the direct way."""

from __future__ import annotations

import math
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING

from foible.apparatus import TERMINALS, Lamp, lamp_chances, load_profile
from foible.circuit import Shape, conductances_of
from foible.diagnosis import explain_lamps
from foible.diagnosis.shown.effects import Edits, failed_network
from foible.kit import SIDES, Setup, load_setup
from foible.trials import Arrangement, Trial, TrialTable, arranged, read_trial
from usual import REASONING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from foible.diagnosis import Reasoner


class Strip:
    """One weapon's shipped set-up."""

    def __init__(self, weapon: str) -> None:
        self.weapon = weapon

    @cached_property
    def setup(self) -> Setup:
        """The kit."""
        return load_setup(self.weapon)

    @cached_property
    def reasoner(self) -> Reasoner:
        """The reasoner of the usual reasoning, so that neither solves again what the other has solved."""
        return REASONING._reasoners._made(REASONING._usual(self.weapon))

    def trial(self, **keys: object) -> Trial:
        """Return a trial written as in a case file."""
        made, wrong = read_trial(self.setup, TrialTable.model_validate(keys))
        assert not wrong, wrong
        return made

    def arrangement(self, **keys: object) -> Arrangement:
        """Return an arrangement written as in a case file."""
        return self.trial(**keys, saw="nothing").arrangement

    def lamps(
        self,
        made: Arrangement,
        *,
        put_in: Mapping[str, float] | None = None,
        across: Mapping[tuple[str, str], float] | None = None,
        profile: str | None = None,
    ) -> dict[str, float]:
        """Return the probability of every lamp, such as ``{"left white": 1.0, ...}``.

        `put_in`: ohms in series with parts. `across`: ohms between two places.
        """
        joined = tuple(((self.setup.places[a], self.setup.places[b]), ohms) for (a, b), ohms in (across or {}).items())
        edits = Edits(tuple((put_in or {}).items()), (), joined)
        network = failed_network(arranged(self.setup, made).network(self.setup.network), edits)
        shape = Shape.of(network, TERMINALS)
        judged = load_profile(profile or self.setup.profile)
        table = lamp_chances(judged, shape, shape.conductances(conductances_of(network)))[0]
        return {f"{side} {lamp.name.lower()}": float(table[number, lamp]) for number, side in enumerate(SIDES) for lamp in Lamp}

    def lit(self, made: Arrangement, **how: object) -> set[str]:
        """Return the lamps that light; each must light or stay dark for sure."""
        chances = self.lamps(made, **how)  # type: ignore[arg-type]
        unsure = {lamp: chance for lamp, chance in chances.items() if 0 < chance < 1}
        assert not unsure, f"the rule leaves these open: {unsure}"
        return {lamp for lamp, chance in chances.items() if chance == 1}

    def with_failure(self, failure: str, ohms: float = math.inf, **keys: object) -> set[str]:
        """Return what lights for sure with a failure in the kit."""
        found = self.setup.failures[failure]
        profile = load_profile(self.setup.profile)
        explained = explain_lamps(self.setup, profile, self.arrangement(**keys), [(found, ohms)] if found else [])
        return {f"{side} {lamp}" for side in SIDES for lamp, chance in explained[side].lamps.items() if chance > 0.99}

    def suspects(self, *trials: Trial) -> list[str]:
        """Return the parts by falling probability."""
        return [suspect.part for suspect in self.reasoner.find(trials).suspects]


@lru_cache
def strip(weapon: str) -> Strip:
    """Return the strip of a weapon, made once."""
    return Strip(weapon)
