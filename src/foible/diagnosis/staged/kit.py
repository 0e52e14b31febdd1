"""Kit with something wrong in it: a trial in; out, what it shows, drawn by chance and the same whenever it is asked again.

The rules are those by which the reasoning expects a fault to behave (`shown.presence`): it comes and goes, is provoked or cured
by a movement, and gauge, meter and eye find what they would. Good parts have values of their own within their spread, the
apparatus a threshold of its own within what the rules leave open.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations
from typing import TYPE_CHECKING, Literal
from zlib import crc32

import numpy as np

from foible.apparatus import TERMINALS, Gap, Lamp, lamp_chances, load_profile
from foible.circuit import Branch, Network, Port, Shape, conductances_of, port_resistances
from foible.diagnosis.belief.lamp_reports import lamp_states
from foible.diagnosis.belief.likelihood import UNREMARKED
from foible.diagnosis.shown.effects import edits, failed_network, together
from foible.diagnosis.shown.hypotheses import Activity, Hypotheses, all_hypotheses
from foible.diagnosis.shown.presence import Presence
from foible.diagnosis.shown.readings import BOX_GAP, LEADS_OHMS
from foible.diagnosis.staged.report import lamps_report
from foible.kit import SIDES
from foible.trials import OVER_RANGE_OHMS, arranged

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.random import Generator
    from numpy.typing import NDArray

    from foible.apparatus import Profile
    from foible.kit import Failure, Setup
    from foible.trials import Arrangement, Group, Look, Trial

__all__ = ["Answer", "StagedFault", "StagedKit"]

Key = Literal["saw", "found", "reads", "lights"]
SURE = 0.5
"""A handling that brings a fault out at least this often by the kit's word does so in every staged kit; judgement, no source."""
WEIGHT = 3.0
"""How closely the readiness of a staged fault keeps to the kit's word, as trials that it counts for; judgement, no source."""
SETUPS = 8
"""Set-ups whose hypotheses stay in memory."""
PASSES, FAILS, FINE, DARK = "passes", "fails", "fine", "nothing"


@dataclass(frozen=True, slots=True)
class StagedFault:
    """One thing that is wrong: a failure, how bad it is, and how it behaves."""

    failure: Failure
    ohms: float
    """Its severity [Ω]; infinite is open, NaN where it has none."""
    activity: Activity = Activity.STEADY


@dataclass(frozen=True, slots=True)
class Answer:
    """What a trial showed, as the key and the phrases of a case file."""

    key: Key
    told: tuple[str, ...]


class StagedKit:
    """A strip with faults in it. `seed` fixes everything that is left to chance."""

    def __init__(self, setup: Setup, faults: Sequence[StagedFault], seed: int) -> None:
        self.setup, self.faults, self._seed = setup, tuple(faults), seed
        hypotheses, self._presence = _known(setup)
        self._places = [_position(hypotheses, fault) for fault in self.faults]
        profiles = [fault.failure.profile for fault in self.faults if fault.failure.profile]
        self._profile: Profile = load_profile((profiles or [setup.profile])[-1], setup.overlays)
        self._sound_profile = load_profile(setup.profile, setup.overlays)
        self._network = self._own_values(setup.network)
        self._states: dict[tuple[Arrangement, tuple[str, ...], int], Mapping[tuple[str, Group], int]] = {}
        self._answers: dict[tuple[Trial, int], Answer] = {}

    def answer(self, trial: Trial, turn: int) -> Answer:
        """Return what a trial shows as the `turn`-th that is made: the same turn shows the same again."""
        if (trial, turn) not in self._answers:
            self._answers[trial, turn] = self._answer(trial, turn)
        return self._answers[trial, turn]

    def _answer(self, trial: Trial, turn: int) -> Answer:
        if trial.gauge:
            return Answer("found", (FAILS if self._fails(trial, *trial.gauge) else PASSES,))
        if trial.examine:
            return Answer("found", (self._sign(trial),))
        looks = self._there(trial, turn)
        if trial.meter:
            return Answer("reads", (self._reading(trial, trial.meter, looks, turn),))
        if trial.box:
            return Answer("lights", self._box(trial, trial.box, looks))
        return Answer("saw", lamps_report(self.setup.kind, self.looks(trial, looks), moving=bool(trial.moves)))

    def noticed(self, trial: Trial) -> tuple[str, str] | None:
        """Return the part and the sign of a plug that whoever draws it finds not to be home: mostly it is noticed, or never."""
        drawn = self._presence.drawn_seats(trial)
        for fault, place in zip(self.faults, self._places, strict=True):
            unseen = self._rng("noticed", fault.failure.part).random() < UNREMARKED
            if drawn[place] and not self._gone(fault, trial) and not unseen:
                signs = fault.failure.signs
                return fault.failure.part, max(signs, key=lambda sign: signs[sign])
        return None

    def looks(self, trial: Trial, there: tuple[int, int]) -> dict[tuple[str, Group], Look]:
        """Return the states of two looks at the lamps, by side and group; `there`: which faults are in each look, as bits."""
        first, second = (self._lit(trial, mask) for mask in there)
        return {key: (min(state, second[key]), max(state, second[key])) for key, state in first.items()}

    def regimes(self, trial: Trial) -> list[tuple[float, float]]:
        """Return for each fault how often it shows in a trial, and in which share of that in one look only."""
        both, one, _ = self._presence.regimes(trial)
        found = []
        for fault, place in zip(self.faults, self._places, strict=True):
            shows = float(both[place] + one[place])
            flickers = float(one[place]) / shows if shows > 0 else 0.0
            gone = self._gone(fault, trial)
            found.append((0.0 if gone else self._ready(fault, trial, shows), flickers))
        return found

    # --- which faults are there -----------------------------------------------------------------------------------

    def _there(self, trial: Trial, turn: int) -> tuple[int, int]:
        looks = [0, 0]
        for number, (shows, flickers) in enumerate(self.regimes(trial)):
            rng = self._rng("there", str(turn), str(number))
            if rng.random() >= shows:
                continue
            if rng.random() < flickers:
                looks[int(rng.integers(2))] |= 1 << number
            else:
                looks = [look | 1 << number for look in looks]
        return looks[0], looks[1]

    def _ready(self, fault: StagedFault, trial: Trial, mean: float) -> float:
        """Return how ready a fault is to show under a handling: a value of its own around what the kit says."""
        if not 0 < mean < 1:
            return mean
        handling = " + ".join(sorted(trial.moves)) or f"press {trial.arrangement.press}"
        own = float(self._rng("ready", fault.failure.id, handling).beta(WEIGHT * mean, WEIGHT * (1 - mean)))
        return max(own, SURE) if mean >= SURE else own

    def _gone(self, fault: StagedFault, trial: Trial) -> bool:
        failure = fault.failure
        return failure.item in trial.swapped or not {failure.part, failure.job}.isdisjoint(trial.mended)

    # --- lamps ----------------------------------------------------------------------------------------------------

    def _lit(self, trial: Trial, mask: int) -> Mapping[tuple[str, Group], int]:
        """Return the state of each group of lamps in one look, with some of the faults there."""
        key = (trial.arrangement, trial.swapped, mask)
        if key not in self._states:
            arrangement = trial.arrangement
            profile = self._profile if self._judges(trial) else self._sound_profile
            after, before = (_lamps(profile, self._made(a, mask)) for a in (arrangement, arrangement.before_press()))
            ways = lamp_states(after, before, self._counting(arrangement), self.setup.kind)
            edge, chosen = self._rng("apparatus", "way").random(), ways[-1][1]
            for share, states in reversed(ways):
                edge -= share
                if edge < 0:
                    chosen = states
                    break
            self._states[key] = {group: self._state(group, chances[:, 0]) for group, chances in chosen.items()}
        return self._states[key]

    def _judges(self, trial: Trial) -> bool:
        """Return whether the apparatus judges by the profile of a fault in it, rather than by its own."""
        return not any(self._gone(fault, trial) for fault in self.faults if fault.failure.profile)

    def _state(self, group: tuple[str, Group], chances: NDArray[np.float64]) -> int:
        """Return a state of a group: whatever the rules leave open is always judged alike by one apparatus."""
        edge = self._rng("apparatus", group[0], group[1].value).random() * float(chances.sum())
        return min(int(np.searchsorted(chances.cumsum(), edge, side="right")), len(chances) - 1)

    def _counting(self, arrangement: Arrangement) -> tuple[str, ...]:
        """Return the side that presses, unless sound kit lights a hit lamp of it before the press as well."""
        if arrangement.press is None:
            return ()
        network = arranged(self.setup, arrangement.before_press()).network(self.setup.network)
        lamps = _lamps(self._sound_profile, network)[0, SIDES.index(arrangement.press)]
        return (arrangement.press,) if lamps[Lamp.WHITE] + lamps[Lamp.COLOURED] < 0.5 else ()  # noqa: PLR2004 — likelier dark

    def _made(self, arrangement: Arrangement, mask: int) -> Network:
        there = [fault for number, fault in enumerate(self.faults) if mask >> number & 1]
        network = arranged(self.setup, arrangement).network(self._network)
        return failed_network(network, together(edits(self.setup, fault.failure, fault.ohms) for fault in there))

    # --- tools and eyes -------------------------------------------------------------------------------------------

    def _sign(self, trial: Trial) -> str:
        """Return the sign that an eye or a hand finds, the same whenever it looks; “fine” where it finds none."""
        for fault in self.faults:
            failure = fault.failure
            if not self._gone(fault, trial) and not {failure.part, failure.item}.isdisjoint(trial.examine):
                edge = self._rng("sign", failure.id).random()
                for sign, share in failure.signs.items():
                    edge -= share
                    if edge < 0:
                        return sign
        return FINE

    def _fails(self, trial: Trial, side: str, gauge: str) -> bool:
        return any(
            self.setup.items[fault.failure.item].side in {side, None}
            and not self._gone(fault, trial)
            and self._rng("gauge", fault.failure.id, gauge).random() < fault.failure.gauges.get(gauge, 0.0)
            for fault in self.faults
        )

    def _reading(self, trial: Trial, places: tuple[str, str], there: tuple[int, int], turn: int) -> str:
        """Return what a meter shows; a bad one shows anything."""
        rng = self._rng("meter", str(turn))
        if any(fault.failure.spoils == "meter" and not self._gone(fault, trial) for fault in self.faults):
            return _figure(float(np.exp(rng.uniform(-1, 6))))
        nodes = [self.setup.places[place] for place in places]
        ohms = {mask: self._ohms(trial, [(nodes[0], nodes[1])], mask)[0] for mask in {*there}}
        low, high = sorted(ohms[mask] + LEADS_OHMS * rng.random() for mask in there)
        first, second = _figure(low), _figure(high)
        return first if first == second or high < 1.3 * low + 0.3 else f"{first} to {second}"

    def _box(self, trial: Trial, item: str, there: tuple[int, int]) -> tuple[str, ...]:
        """Return which lamps of a test box light, as pairs of lines."""
        nodes = self.setup.items[item].box
        pairs = list(combinations(nodes, 2))
        edge = self._rng("box").random()
        ohms = {mask: self._ohms(trial, [(nodes[a], nodes[b]) for a, b in pairs], mask) for mask in {*there}}
        lit = [Gap(*BOX_GAP).chance_open(ohms[mask]) <= edge for mask in there]
        told = [(pair, int(first) + int(second)) for pair, first, second in zip(pairs, *lit, strict=True)]
        return tuple(f"{a}-{b}{'' if times > 1 else ' flickers'}" for (a, b), times in told if times) or (DARK,)

    def _ohms(self, trial: Trial, pairs: Sequence[tuple[str, str]], mask: int) -> NDArray[np.float64]:
        """Return the resistance between pairs of nodes, shape (pairs,) [Ω]."""
        network = self._made(trial.arrangement, mask)
        ports = [Port.between(a, b) for a, b in pairs]
        shape = Shape.of(network, tuple(dict.fromkeys(node for pair in pairs for node in pair)))
        return np.asarray(port_resistances(shape, shape.conductances(conductances_of(network)), ports)[:, 0])

    # --- chance ---------------------------------------------------------------------------------------------------

    def _own_values(self, network: Network) -> Network:
        """Return the network with a value of its own for each good part, 95 % of them within its spread."""
        spreads = {part.id: part.spread for part in self.setup.parts.values()}
        rng = self._rng("values")
        branches = []
        for branch in network.branches:
            factor = math.exp(float(rng.standard_normal()) * math.log(spreads.get(branch.name, 1.0)) / 1.96)
            branches.append(replace(branch, ohms=branch.ohms * factor) if math.isfinite(branch.ohms) else branch)
        return Network(tuple[Branch, ...](branches))

    def _rng(self, *about: str) -> Generator:
        """Return the chance of one thing, which nothing else changes."""
        return np.random.default_rng([self._seed, crc32("|".join(about).encode())])


@lru_cache(maxsize=SETUPS)
def _known(setup: Setup) -> tuple[Hypotheses, Presence]:
    hypotheses = all_hypotheses(setup, (), ())
    return hypotheses, Presence(setup, hypotheses)


def _position(hypotheses: Hypotheses, fault: StagedFault) -> int:
    """Return the hypothesis that a fault comes nearest to: the same failure, behaving alike where the kit says that it may."""
    number = hypotheses.failures.index(fault.failure)
    own = np.flatnonzero(hypotheses.failure == number)
    alike = own[hypotheses.activity[own] == fault.activity]
    return int((alike if len(alike) else own)[0])


def _lamps(profile: Profile, network: Network) -> NDArray[np.float64]:
    """Return the probability of each lamp, shape (1, sides, lamps)."""
    shape = Shape.of(network, TERMINALS)
    return np.asarray(lamp_chances(profile, shape, shape.conductances(conductances_of(network))))


def _figure(ohms: float) -> str:
    """Return what a meter shows of a resistance [Ω]."""
    if ohms >= OVER_RANGE_OHMS:
        return "open"
    return f"{ohms:.1f}" if ohms < 100 else f"{ohms:.0f}"  # noqa: PLR2004 — as the ranges of a meter go
