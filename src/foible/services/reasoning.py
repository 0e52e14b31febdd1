"""The one door to the reasoning: cases and questions in, answers out, one thread at a time inside."""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, replace
from functools import partial
from threading import Lock
from typing import TYPE_CHECKING

from cachetools import LRUCache

from foible.apparatus import chance_both_register, load_profile
from foible.diagnosis import Separation, build_plan, explain_idea, explain_lamps
from foible.errors import UnknownNameError
from foible.facts import LYING_ALONE
from foible.kit import SIDES, all_weapons, default_weapon, load_setup, other, plain, weapon_at
from foible.services.complained import complained
from foible.services.reasoners import Kit, Reasoners, Remembered, published, telling_facts
from foible.services.verdict import AboutSuspect, Diagnosis, Verdict, Why, verdict_of
from foible.services.why_now import why_now, why_of
from foible.situation import Mode, Situation
from foible.trials import Arrangement, Case, described, made_alone, read_case

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence
    from pathlib import Path

    from foible.apparatus import Window
    from foible.diagnosis import Explanation, Finding, Plan, Proof, Rates, Reasoner, Suspect, Testability
    from foible.kit import Failure, Repair, Setup, Weapon
    from foible.trials import Idea, Trial, TrialTable

__all__ = ["LampRow", "Reasoning"]

PISTE = Situation()
DIAGNOSES = 256
"""Rows of trials for which the answer stays in memory."""
SEPARATIONS = 3
"""Weapons for which the separation of their failures stays in memory."""


@dataclass(frozen=True, slots=True)
class LampRow:
    """What lights in one trial: the probability of each lamp, left and right."""

    idea: Idea
    left: Explanation
    right: Explanation


class Reasoning:
    """Everything that can be asked of the reasoning, as one object.

    `overlays` are folders with further kit files, `situation` says where the armourer is and what is at hand. Any number of
    threads may call it; those that ask about the same kit wait for one another.
    """

    def __init__(self, *, overlays: Sequence[Path] = (), situation: Situation = PISTE) -> None:
        self.overlays = tuple(overlays)
        self.situation = situation
        self.rates: Callable[[Setup], Rates] = published
        """Returns the club's own rates for a set-up, or none."""
        self._reasoners = Reasoners(self.overlays)
        self._diagnoses: LRUCache[tuple[object, ...], Diagnosis] = LRUCache(DIAGNOSES)
        self._proofs: Remembered[Proof] = Remembered()
        self._abouts: Remembered[AboutSuspect] = Remembered()
        self._separations: LRUCache[str, Separation] = LRUCache(SEPARATIONS)
        self._remembering = Lock()

    def at(self, situation: Situation) -> Reasoning:
        """Return the same reasoning in another situation; both share what has been worked out."""
        moved = copy(self)
        moved.situation = situation
        return moved

    def taught(self, rates: Callable[[Setup], Rates]) -> Reasoning:
        """Return the same reasoning with other rates: a club's own by set-up, or `published`; they share what has been solved."""
        other = copy(self)
        other.rates = rates
        return other

    def weapons(self) -> tuple[Weapon, ...]:
        """Return every weapon, the usual one first."""
        return all_weapons(self.overlays)

    def weapon(self, name: str | None = None) -> Weapon:
        """Return a weapon by its name or its word in addresses; None is the usual one. Raises UnknownNameError."""
        return default_weapon(self.overlays) if name is None else weapon_at(name, self.overlays)

    def setup(self, weapon: str | None = None) -> Setup:
        """Return the set-up of a weapon; None is the usual one."""
        return load_setup(self.weapon(weapon).name, overlays=self.overlays)

    def case(self, path: Path, *, allow_empty: bool = False) -> Case:
        """Return the case in a file, or raise ProblemsError with everything wrong with it."""
        return read_case(path, overlays=self.overlays, allow_empty=allow_empty)

    def ideas(self, setup: Setup) -> tuple[Idea, ...]:
        """Return every trial of the catalogue of a set-up, at the piste and on the bench."""
        return self._reasoners.catalogue(setup).ideas

    def strip_ideas(self, weapon: str) -> tuple[Idea, ...]:
        """Return the trials of the catalogue that are made at the piste."""
        return tuple(idea for idea in self.ideas(self.setup(weapon)) if idea.item is None)

    def idea(self, setup: Setup, say: str) -> Idea | None:
        """Return the catalogue's trial that a sentence asks for, or that with an exchange, or None."""
        return self._reasoners.catalogue(setup).asked(say)

    def said(self, setup: Setup, trial: Trial, known: Trial | TrialTable | None = None) -> str:
        """Return the sentence of the catalogue that asks for a trial, else a phrase of what was done.

        `known` has the exchanges and repairs that held before, which go without saying.
        """
        bare = trial.unseen()
        if {*trial.swapped} <= {*(known.swapped if known else ())} and {*trial.mended} <= {*(known.mended if known else ())}:
            bare = trial.with_own_kit()
        asked = None if trial.acts else next((idea.say for idea in self.ideas(setup) if idea.trial == bare), None)
        often = f", {trial.times} times" if trial.times > 1 else ""
        return f"{asked}{often}" if asked else described(trial)

    def failure(self, name: str, *, weapon: str | None = None) -> Failure:
        """Return a failure by “part: mode”, or by part alone where the part has one failure. Raises UnknownNameError."""
        setup = self.setup(weapon)
        if name in setup.failures:
            return setup.failures[name]
        of_part = [failure for failure in setup.failures.values() if plain(failure.part) == plain(name)]
        if len(of_part) == 1:
            return of_part[0]
        known = [failure.id for failure in of_part] or list(setup.failures)
        raise UnknownNameError(what="single failure" if of_part else "failure", name=name, known=known)

    # --- a case ---------------------------------------------------------------------------------------------------

    def find(self, case: Case) -> Finding:
        """Return what the trials of a case amount to, but not what to do next."""
        with self._reasoners.lent(self._kit(case, case.trials)) as reasoner:
            return reasoner.find(case.trials)

    def diagnose(self, case: Case, trials: Sequence[Trial] | None = None, *, without: Sequence[str] = ()) -> Diagnosis:
        """Return what a case amounts to.

        `trials` stand in for those of the case, `without` are the sentences of trials not to offer.
        """
        made = case.trials if trials is None else tuple(trials)
        situation = self._situated(case, without)
        kit = self._kit(case, made)
        key = (*kit.key, made, situation)
        with self._remembering:
            known = self._diagnoses.get(key)
        if known is None:
            with self._reasoners.lent(kit) as reasoner:
                known = _diagnosed(reasoner, case, made, situation)
            with self._remembering:
                self._diagnoses[key] = known
        return known.of(case)

    def verdict(self, diagnosis: Diagnosis, count: int) -> Verdict:
        """Return what a diagnosis comes to, with its first `count` suspects."""
        with self._reasoners.lent(self._kit(diagnosis.case, diagnosis.trials)) as reasoner:
            misread = reasoner.misread(diagnosis.finding, diagnosis.trials)
            alike = reasoner.alike(diagnosis.finding, count, self._situated(diagnosis.case))
        return verdict_of(diagnosis, count, misread=misread, alike=alike)

    def about(
        self, diagnosis: Diagnosis, suspect: Suspect, *, among: int, trial: int | None = None, sure: float = 0.95
    ) -> AboutSuspect:
        """Return everything that can be said of a suspect.

        `among`: how many suspects it is compared with; `trial`: position of the trial to explain, by default the most telling
        one; `sure`: how certain the proof of its repair must be.
        """
        key = (*self._key(diagnosis), suspect.failure.id, suspect.failure.repair, suspect.ohms, among, trial, sure)
        make = partial(self._about, diagnosis, suspect, among, trial, sure)
        return self._abouts.get(diagnosis.case.setup, key, make)

    def _about(self, diagnosis: Diagnosis, suspect: Suspect, among: int, trial: int | None, sure: float) -> AboutSuspect:
        case, situation = diagnosis.case, self._situated(diagnosis.case)
        proof = self.proof(diagnosis, suspect, sure=sure)
        with self._reasoners.lent(self._kit(case, diagnosis.trials)) as reasoner:
            weights = reasoner.weighed(diagnosis.trials, suspect.part)
            misread = reasoner.misread(diagnosis.finding, diagnosis.trials)
            groups = reasoner.alike(diagnosis.finding, among, situation)
        return AboutSuspect(
            suspect=suspect,
            why=why_of(case, diagnosis.trials, suspect, trial),
            weights=tuple(weights),
            misread=tuple(misread),
            repair=self.repair(case, suspect),
            proof=proof,
            alike=next((group for group in groups if suspect.part in group.parts), None),
        )

    def weighed(self, diagnosis: Diagnosis, part: str) -> list[float]:
        """Return how many bits each trial spoke for a part, or, where negative, against it."""
        with self._reasoners.lent(self._kit(diagnosis.case, diagnosis.trials)) as reasoner:
            return reasoner.weighed(diagnosis.trials, part)

    def why(self, diagnosis: Diagnosis, suspect: Suspect, trial: int) -> Why | None:
        """Return what a suspect does to the lamps in the trial at a position, with the path of the current or where it is cut."""
        return why_of(diagnosis.case, diagnosis.trials, suspect, trial)

    def why_now(self, diagnosis: Diagnosis, idea: Idea) -> str:
        """Return one line that says why a trial is asked for now."""
        with self._reasoners.lent(self._kit(diagnosis.case, diagnosis.trials)) as reasoner:
            return why_now(reasoner, diagnosis, idea, self._situated(diagnosis.case))

    def proof(self, diagnosis: Diagnosis, suspect: Suspect, *, sure: float = 0.95) -> Proof:
        """Return the shortest set of trials that proves the repair of a suspect."""
        case, trials, situation = diagnosis.case, diagnosis.trials, self._situated(diagnosis.case)

        def search() -> Proof:
            with self._reasoners.lent(self._kit(case, trials)) as reasoner:
                return reasoner.proof(diagnosis.finding, suspect, situation, trials, sure=sure)

        key = (*self._key(diagnosis), suspect.failure.id, suspect.failure.repair, suspect.ohms, sure)
        return self._proofs.get(case.setup, key, search)

    def repair(self, case: Case, suspect: Suspect) -> Repair | None:
        """Return the usual repair of a suspect's failure; None where the kit names none."""
        return case.setup.repairs[suspect.failure.repair] if suspect.failure.repair else None

    # --- a weapon -------------------------------------------------------------------------------------------------

    def card(
        self, weapon: str | None, tools: Sequence[str], minutes: float, *, item: str | None = None, facts: Sequence[str] = ()
    ) -> Plan:
        """Return the decision trees for a weapon, the tools at hand, facts of the place and the time available [min].

        At the piste there is one for each complaint, but for those about a metal piste or orange lamps of which `facts` say
        nothing. `item`: what lies on the bench; None is the piste. Raises UnknownNameError.
        """
        setup = self.setup(weapon)
        kit = replace(self._usual(weapon), facts=telling_facts(setup, facts))
        on_bench = None if item is None else setup.items.name(item)
        mode = Mode.PISTE if on_bench is None else Mode.BENCH
        situation = Situation(mode, on_bench, tuple(tools), facts=tuple(facts))
        complaints = () if on_bench else complained(setup, facts)
        with self._reasoners.lent(kit) as reasoner:
            return build_plan(reasoner, situation, 60 * minutes, complaints)

    def testability(self, weapon: str | None, sets: Mapping[str, Sequence[str]]) -> dict[str, Testability]:
        """Return by name how far each set of tools detects the failures of a weapon and tells them apart."""
        kit = self._usual(weapon)
        with self._reasoners.lent(kit) as reasoner:
            known = self._separations.get(kit.setup.weapon)
            if known is None:
                known = self._separations[kit.setup.weapon] = Separation(reasoner, reasoner.ideas)
            return {name: known.testability(tools) for name, tools in sets.items()}

    def lamps(
        self,
        failure: Failure | None,
        ohms: float,
        *,
        weapon: str | None = None,
        watch: Callable[[Sequence[Idea]], Iterable[Idea]] = lambda ideas: ideas,
    ) -> list[LampRow]:
        """Return what lights in every trial of the catalogue, with a failure at severity `ohms` [Ω] or with sound kit.

        `watch` passes the trials on, to show progress.
        """
        kit = self._usual(weapon)
        made = [(failure, ohms)] if failure else []
        rows = []
        for idea in watch(self.ideas(kit.setup)):
            explained = explain_idea(kit.setup, kit.profile, idea, made)
            rows.append(LampRow(idea, *(explained[side] for side in SIDES)))
        return rows

    def shown(self, weapon: str, failures: Sequence[tuple[Failure, float]], idea: Idea) -> dict[str, Explanation]:
        """Return by side what lights in a trial with `failures`, each at a severity [Ω], and why."""
        kit = self._usual(weapon)
        return explain_idea(kit.setup, kit.profile, idea, failures)

    def times(self, weapon: str | None) -> list[Window]:
        """Return the times that count at a weapon."""
        return [window for _, window in self._usual(weapon).profile.times]

    def chance_both_register(self, weapon: str | None, apart: float) -> float:
        """Return the probability that two good hits `apart` milliseconds apart light both coloured lamps, on sound kit."""
        kit = self._usual(weapon)
        target = "lamé front" if "left lamé front" in kit.setup.places else None
        hits = [(side, Arrangement(press=side, on=target and f"{other(side)} {target}")) for side in SIDES]
        lamps = [explain_lamps(kit.setup, kit.profile, hit)[side].lamps for side, hit in hits]
        return chance_both_register(kit.profile.time("block"), lamps[0], lamps[1], apart)

    # --- ahead of time --------------------------------------------------------------------------------------------

    def prepare(self, case: Case) -> None:
        """Get ready for a case that will grow trial by trial, while its first trial is being made."""
        with self._reasoners.lent(self._kit(case, case.trials)) as reasoner:
            reasoner.prepare()

    def warm(self, weapon: str) -> None:
        """Work out what the trials at the piste need, one by one, so that other requests can come in between."""
        kit = self._usual(weapon)
        kit = replace(kit, rates=self.rates(kit.setup))
        self.diagnose(Case("", "", "", kit.setup, kit.profile, (), (), (), (), (), None))
        with self._reasoners.lent(kit) as reasoner:
            steps = reasoner.preparations()
        while True:
            with self._reasoners.lent(kit):
                step = next(steps, None)
                if step is None:
                    return
                step()

    # --- taking turns ---------------------------------------------------------------------------------------------

    def _usual(self, weapon: str | None) -> Kit:
        """Return the kit of a weapon fitted as usual. Raises UnknownNameError."""
        setup = self.setup(weapon)
        return Kit(setup, load_profile(setup.profile, self.overlays))

    def _kit(self, case: Case, trials: Sequence[Trial]) -> Kit:
        """Return the kit of a case; items known to be good are not in question.

        On the bench only the one that lies there is, and the tools that it is tried with; so it is where one alone was tried.
        """
        situation = self._situated(case)
        item = situation.item or made_alone(case.setup, trials)
        facts = telling_facts(case.setup, (*situation.facts, LYING_ALONE) if item else situation.facts)
        good = self._reasoners.not_in_question(case.setup, item, trials) if item else case.known_good
        return Kit(case.setup, case.profile, good, facts, self.rates(case.setup))

    def _key(self, diagnosis: Diagnosis) -> tuple[object, ...]:
        """Return what a diagnosis depends on."""
        case, trials = diagnosis.case, diagnosis.trials
        return (*self._kit(case, trials).key, trials, self._situated(case))

    def _situated(self, case: Case, without: Sequence[str] = ()) -> Situation:
        """Return the situation with the item on the bench as the kit spells it."""
        item = self.situation.item
        return replace(
            self.situation,
            item=item and case.setup.items.name(item),
            without=tuple(without),
            facts=tuple(dict.fromkeys((*case.facts, *self.situation.facts))),
        )


def _diagnosed(reasoner: Reasoner, case: Case, trials: tuple[Trial, ...], situation: Situation) -> Diagnosis:
    finding = reasoner.find(trials)
    decision = reasoner.decide(finding, situation, trials)
    first = finding.suspects[0] if finding.suspects else None
    explained = partial(why_of, case, trials, first) if first else lambda: None
    candidates = (*reasoner.candidate_trials(finding, situation), *decision.made_up)
    return Diagnosis(case, trials, finding, decision, candidates, explained)
