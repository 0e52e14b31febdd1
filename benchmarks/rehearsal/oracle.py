"""A scenario and a trial in; what it shows out. It knows what is wrong, and nothing of what anybody suspects."""

from __future__ import annotations

import math
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

from benchmarks.rehearsal.patterns import Step, named, pattern
from foible.apparatus import TERMINALS, Gap, Lamp, lamp_chances, load_profile
from foible.circuit import Port, Shape, conductances_of, port_resistances
from foible.diagnosis.shown.effects import edits, failed_network, together
from foible.diagnosis.shown.readings import BOX_GAP
from foible.kit import SIDES, other
from foible.trials import arranged

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.random import Generator

    from benchmarks.rehearsal.scenario import Scenario, Truth
    from foible.circuit import Network
    from foible.kit import Failure, Setup
    from foible.trials import Trial

__all__ = ["Oracle"]

OHMS = {"open": math.inf, "short": 0.05}
EARTH = frozenset({"yellow", "orange"})
"""What the lamp for an earthed line is called."""
STEADY = {"otherwise": 1.0}
LEADS_OHMS = 0.1
"""What a meter's leads add [Ω]; common practice, no source."""


class _Fault:
    """One thing that is wrong, and how it behaves."""

    def __init__(self, setup: Setup, truth: Truth, shows: Mapping[str, float]) -> None:
        part, mode = truth.part or truth.stand_in_part, truth.mode or truth.stand_in_mode
        self.failure: Failure | None = setup.failures[f"{part}: {mode}"] if part else None
        self.part = setup.parts.name(part) if part else ""
        self.item = setup.parts[self.part].item if part else ""
        self.ohms = OHMS[truth.ohms] if isinstance(truth.ohms, str) else truth.ohms
        self.shows = truth.shows or shows
        self.cured_back: Mapping[str, float] | None = None

    def gone(self, trial: Trial) -> bool:
        """Return whether a trial is made without it."""
        job = self.failure.job if self.failure else ""
        return self.item in trial.swapped or self.part in trial.mended or (bool(job) and job in trial.mended)

    def chance(self, trial: Trial) -> float:
        """Return the chance that it shows in one try of a trial."""
        pressed = trial.arrangement.press
        fitting = [
            (key.startswith("hold"), value)
            for key, value in self.shows.items()
            if any(move.startswith(key) for move in trial.moves)
            or (key == "press" and pressed)
            or (pressed and key == f"press {pressed}")
        ]
        quiet = not (trial.moves or pressed or trial.arrangement.touching)
        if quiet and "rest" in self.shows:
            return self.shows["rest"]
        if not fitting:
            return self.shows.get("otherwise", 0.0)
        held = [value for hold, value in fitting if hold]
        return held[0] if held else max(value for _, value in fitting)


class Oracle:
    """One run of a scenario."""

    def __init__(self, scenario: Scenario, setup: Setup, rng: Generator) -> None:
        self._behaviour = scenario.behaviour
        self._setup, self._rng = setup, rng
        self._profile = load_profile(setup.profile)
        usual = scenario.behaviour.shows
        if usual is None or (scenario.behaviour.present in {"steady", "cured"} and "otherwise" not in usual):
            usual = {**(usual or {}), **STEADY}
        self.faults = [_Fault(setup, truth, usual) for truth in scenario.truth]
        self._found: dict[str, str] = {}
        self.shown = False
        """Whether every fault showed in the last trial, in some try of it."""

    def answer(self, step: Step) -> dict[str, Any]:
        """Return the keys that say what a trial showed."""
        trial = step.trial
        there = [fault for fault in self.faults if not fault.gone(trial)]
        tries = max(trial.times, 1)
        drawn = [[self._shows(fault, trial) for fault in there] for _ in range(tries)]
        self.shown = any(all(each) and len(each) == len(self.faults) and bool(each) for each in drawn)
        try:
            if trial.examine:
                return {"found": self._look(trial, there)}
            if trial.gauge:
                return {"found": [self._gauge(trial, there)]}
            if trial.meter:
                return {"reads": self._reading(trial, there, drawn[0])}
            if trial.box:
                return {"lights": self._box(trial, there, drawn[0])}
            return {"saw": self._told(self._lamps(step, there, drawn))}
        finally:
            self._cure(step, there)

    # --- presence -------------------------------------------------------------------------------------------------

    def _shows(self, fault: _Fault, trial: Trial) -> bool:
        if fault.cured_back is not None:
            done = [*trial.moves, *([f"press {trial.arrangement.press}"] if trial.arrangement.press else [])]
            chance = max((c for key, c in fault.cured_back.items() if any(each.startswith(key) for each in done)), default=0.0)
            if self._rng.random() >= chance:
                return False
            fault.cured_back = None
        return bool(self._rng.random() < fault.chance(trial))

    def _cure(self, step: Step, there: Sequence[_Fault]) -> None:
        for fault in there:
            for cure in self._behaviour.cures:
                if fault.cured_back is None and pattern(cure.step).fits(step) and self._rng.random() < cure.chance:
                    fault.cured_back = cure.back

    # --- lamps ----------------------------------------------------------------------------------------------------

    def _told(self, lit: Sequence[str]) -> list[str]:
        """Return a report of lamps as the pages make it: what lit, and what stayed dark beside it."""
        if not {*lit} - {"nothing"}:
            return ["nothing"]
        phrases: list[str] = []
        for side in SIDES:
            own = [phrase for phrase in lit if phrase.startswith(f"{side} ")]
            words = {phrase.split()[1] for phrase in own}
            if words and words.isdisjoint(EARTH) and self._setup.kind.lamp_word("yellow") == "yellow":
                own.append(f"{side} no yellow")  # an orange lamp need not be there
            elif words and words <= EARTH:
                own += [f"{side} no {word}" for word in ("white", "coloured") if (word, self._setup.weapon) != ("white", "épée")]
            phrases += own or [f"{side} nothing"]
        return phrases

    def _lamps(self, step: Step, there: Sequence[_Fault], drawn: Sequence[Sequence[bool]]) -> list[str]:
        trial = step.trial
        if self._behaviour.mirrored:
            return self._mirrored(step, there)
        looks = [self._lit(step, [fault for fault, shown in zip(there, each, strict=True) if shown]) for each in drawn]
        unsteady = any(fault.chance(trial) < 1 and each[number] for each in drawn for number, fault in enumerate(there))
        if trial.moves and unsteady:
            looks.append(self._lit(step, []))
        steady = [phrase for phrase in looks[0] if all(phrase in look for look in looks)]
        pressed = trial.arrangement.press
        manner = "sometimes" if pressed or len(drawn) > 1 else "flickers"
        changing = dict.fromkeys(f"{phrase} {manner}" for look in looks for phrase in look if phrase not in steady)
        return [*steady, *changing] or ["nothing"]

    def _lit(self, step: Step, faults: Sequence[_Fault]) -> list[str]:
        """Return the lamps that are lit while some faults show."""
        if faults and len(faults) == len(self.faults):
            for answer in self._behaviour.answers:
                if pattern(answer.step).names_all_of(step):
                    return [phrase for phrase in answer.saw if phrase != "nothing"]
        return self._circuit(step.trial, faults)

    def _circuit(self, trial: Trial, faults: Sequence[_Fault]) -> list[str]:
        profile = next(
            (load_profile(f.failure.profile) for f in faults if f.failure is not None and f.failure.profile), self._profile
        )
        network = self._network(trial, faults)
        shape = Shape.of(network, TERMINALS)
        lamps = lamp_chances(profile, shape, shape.conductances(conductances_of(network)))[0]
        words = {Lamp.WHITE: "white", Lamp.COLOURED: "coloured", Lamp.YELLOW: "yellow"}
        return [f"{side} {words[lamp]}" for number, side in enumerate(SIDES) for lamp in Lamp if lamps[number, lamp] > 0.5]  # noqa: PLR2004 — likelier lit than not

    def _network(self, trial: Trial, faults: Sequence[_Fault]) -> Network:
        made = [edits(self._setup, fault.failure, fault.ohms) for fault in faults if fault.failure]
        return failed_network(arranged(self._setup, trial.arrangement).network(self._setup.network), together(made))

    def _mirrored(self, step: Step, there: Sequence[_Fault]) -> list[str]:
        for answer in self._behaviour.answers:
            if there and pattern(answer.step).names_all_of(step):
                return list(answer.saw)
        phrases = self._circuit(step.trial, [])
        if there:
            phrases = [f"{other(side)} {lamp}" for side, lamp in (phrase.split(" ", 1) for phrase in phrases)]
        return phrases or ["nothing"]

    # --- tools ----------------------------------------------------------------------------------------------------

    def _look(self, trial: Trial, there: Sequence[_Fault]) -> list[str]:
        """Return what the eye finds; a second look finds the same as the first."""
        gone = {fault.part for fault in self.faults if fault not in there}
        signs = []
        for find in self._behaviour.finds:
            if find.look not in self._found:
                self._found[find.look] = find.found if self._rng.random() < find.chance else "fine"
            looked = any(named(name, find.look) for name in trial.examine)
            if looked and find.look not in gone and self._found[find.look] != "fine":
                signs.append(self._found[find.look])
        return list(dict.fromkeys(signs)) or ["fine"]

    def _gauge(self, trial: Trial, there: Sequence[_Fault]) -> str:
        assert trial.gauge is not None
        side = trial.gauge[0]
        if there or not self.faults:
            for result in self._behaviour.gauges:
                if result.gauge == " ".join(trial.gauge) and not any(name.startswith(side) for name in trial.mended):
                    return result.found
        return "passes"

    def _reading(self, trial: Trial, there: Sequence[_Fault], shown: Sequence[bool]) -> str:
        assert trial.meter is not None
        if there or not self.faults:
            for result in self._behaviour.reads:
                pair = {part.strip() for part in result.meter.split("|")}
                moved = any(named(result.move, move) for move in trial.moves) if result.move else not trial.moves
                if pair == set(trial.meter) and result.press == trial.arrangement.press and moved:
                    return result.reads
        faults = [fault for fault, shows in zip(there, shown, strict=True) if shows]
        read = self._ohms(trial, faults)
        calm = self._ohms(trial, [])
        if trial.moves and faults and any(fault.chance(trial) < 1 for fault in faults) and abs(read - calm) > 1:
            low, high = sorted((read, calm))
            return f"{low:.1f} to open" if math.isinf(high) else f"{low:.1f} to {high:.1f}"
        return "open" if read > 1e7 else f"{read:.1f}"  # noqa: PLR2004 — beyond what a meter shows

    def _ohms(self, trial: Trial, faults: Sequence[_Fault]) -> float:
        assert trial.meter is not None
        nodes = [self._setup.places[place] for place in trial.meter]
        return self._between(trial, faults, nodes[0], nodes[1]) + LEADS_OHMS

    def _between(self, trial: Trial, faults: Sequence[_Fault], first: str, second: str) -> float:
        network = self._network(trial, faults)
        shape = Shape.of(network, (first, second))
        mesh = shape.conductances(conductances_of(network))
        return float(port_resistances(shape, mesh, [Port.between(first, second)])[0, 0])

    def _box(self, trial: Trial, there: Sequence[_Fault], shown: Sequence[bool]) -> list[str]:
        assert trial.box is not None
        if there or not self.faults:
            for result in self._behaviour.lights:
                moved = any(named(result.move, move) for move in trial.moves) if result.move else not trial.moves
                if result.box == trial.box and result.press == trial.arrangement.press and moved:
                    return list(result.lights)
        faults = [fault for fault, shows in zip(there, shown, strict=True) if shows]
        nodes = self._setup.items[trial.box].box
        lit = [
            f"{a}-{b}"
            for a, b in combinations(nodes, 2)
            if Gap(*BOX_GAP).chance_open(np.array([self._between(trial, faults, nodes[a], nodes[b])]))[0] < 0.5  # noqa: PLR2004 — likelier lit than not
        ]
        return lit or ["nothing"]
