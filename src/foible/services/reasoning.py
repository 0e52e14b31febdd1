"""The façade: the one set of calls that the terminal and other surfaces use."""

from __future__ import annotations

import math
from contextlib import contextmanager
from copy import copy
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from threading import RLock
from typing import TYPE_CHECKING

from foible.apparatus import Window, chance_both_register, load_profile
from foible.cache import Cache
from foible.diagnosis import Explanation, Finding, Reasoner, Suspect, build_tree, explain_lamps, explain_tools
from foible.errors import Problem, ProblemsError, UnknownNameError
from foible.kit import SIDES, all_weapons, default_weapon, load_setup, other, plain, weapon_at
from foible.situation import Mode, Situation
from foible.trials import Arrangement, Case, Group, Trial, load_catalogue, read_case

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence
    from pathlib import Path

    from foible.apparatus import Profile
    from foible.diagnosis import Advice, AlikeSuspects, Decision, Proof, Tree
    from foible.kit import Failure, Repair, Setup, Weapon
    from foible.trials import Idea

    Fitted = tuple[tuple[str, str, str], ...]

__all__ = ["CaseScore", "Diagnosis", "Doubts", "LampRow", "Reasoning", "Score", "Why"]

PISTE = Situation()
LIKELY = 0.5
"""From here on something is more likely than not."""
PAIRS = 4
"""Pairs of failures that are told."""
REASONERS = 12
"""Set-ups, each with what lies on the bench, whose tables stay in memory; one takes some 100 MB for a whole strip."""
DIAGNOSES = 256
"""Rows of trials whose answer stays in memory."""
TOP = 3
"""A case counts as found when the true part is among this many suspects."""


@dataclass(frozen=True)
class Why:
    """The reason for a suspect: one trial, explained."""

    suspect: Suspect
    trial: int
    """Position of the trial in the case."""
    explanation: Explanation


@dataclass(frozen=True)
class Diagnosis:
    """What a case amounts to, what to try next, and why."""

    case: Case
    trials: tuple[Trial, ...]
    finding: Finding
    decision: Decision
    """The trials worth making, or that it is time to act."""
    explained: Callable[[], Why | None] = field(repr=False, compare=False)

    @cached_property
    def why(self) -> Why | None:
        """The reason for the first suspect; worked out when it is asked for."""
        return self.explained()

    @property
    def advice(self) -> tuple[Advice, ...]:
        """Trials worth making, the one to make first in front."""
        return self.decision.advice


@dataclass(frozen=True)
class Doubts:
    """What is to be said against taking the suspects at face value."""

    pairs: tuple[tuple[str, str, float], ...]
    """Pairs of parts with probabilities, where no single failure explains the trials; else empty."""
    misread: tuple[tuple[int, float], ...]
    """Trials by position whose lamps were more likely misread than not, with the probability."""
    alike: tuple[AlikeSuspects, ...]
    """Suspects that nothing at hand tells apart."""


@dataclass(frozen=True, slots=True)
class LampRow:
    """What lights in one trial: the probability of each lamp, left and right."""

    idea: Idea
    left: Explanation
    right: Explanation


@dataclass(frozen=True, slots=True)
class CaseScore:
    """How one case with a known cause came out."""

    name: str
    case: Case
    part_rank: int | None
    """Rank of the first true part, 1 for the first suspect; None where the case names none."""
    item_rank: int | None
    top_part: str
    top_item: str
    unexplained: str
    """Why the model cannot express the cause, where the case file says so."""

    @property
    def part_found(self) -> bool:
        """Whether a true part is among the first three suspects."""
        return self.part_rank is not None and self.part_rank <= TOP

    @property
    def item_found(self) -> bool:
        """Whether the true item comes first."""
        return self.item_rank == 1


@dataclass(frozen=True)
class Score:
    """How a folder of cases came out."""

    cases: tuple[CaseScore, ...]

    @property
    def expressible(self) -> tuple[CaseScore, ...]:
        """The cases whose cause the model can express."""
        return tuple(case for case in self.cases if not case.unexplained)

    @property
    def part_share(self) -> float:
        """Share of expressible cases with a true part among the first three suspects."""
        return sum(case.part_found for case in self.expressible) / max(len(self.expressible), 1)

    @property
    def item_share(self) -> float:
        """Share of expressible cases with the true item first."""
        return sum(case.item_found for case in self.expressible) / max(len(self.expressible), 1)


class Reasoning:
    """Everything a surface can ask for.

    `overlays` are folders with further kit files, `situation` says where the armourer is and what is at hand.
    """

    def __init__(self, *, overlays: Sequence[Path] = (), situation: Situation = PISTE) -> None:
        self.overlays = tuple(overlays)
        self.situation = situation
        self._reasoners: Cache[tuple[object, ...], Reasoner] = Cache(REASONERS)
        self._diagnoses: Cache[tuple[object, ...], Diagnosis] = Cache(DIAGNOSES)
        self._making = RLock()

    def at(self, situation: Situation) -> Reasoning:
        """Return the same bench in another situation; both share what has been worked out."""
        reasoning = copy(self)
        reasoning.situation = situation
        return reasoning

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

    # --- diagnosis ------------------------------------------------------------------------------------------------

    def diagnose(self, case: Case, trials: Sequence[Trial] | None = None, *, without: Sequence[str] = ()) -> Diagnosis:
        """Return what a case amounts to.

        `trials` stand in for those of the case, `without` are the sentences of trials not to offer.
        """
        made = case.trials if trials is None else tuple(trials)
        situation = self._situated(case, without)
        key = (case.setup.weapon, case.fitted, self._good(case), case.profile.name, made, situation)
        kept = self._diagnoses.get(key)
        if kept is None:
            with self._reasoning(case) as reasoner:
                kept = self._diagnoses.put(key, self._diagnosed(reasoner, case, made, situation))
        return replace(kept, case=case)

    def _diagnosed(self, reasoner: Reasoner, case: Case, trials: tuple[Trial, ...], situation: Situation) -> Diagnosis:
        finding = reasoner.find(trials)
        decision = reasoner.decide(finding, situation, trials)
        return Diagnosis(case, trials, finding, decision, partial(self._first_why, case, trials, finding))

    def _first_why(self, case: Case, trials: tuple[Trial, ...], finding: Finding) -> Why | None:
        if not finding.suspects:
            return None
        suspect = finding.suspects[0]
        telling = _telling(case, trials, suspect)
        return None if telling is None else self.why(case, trials[telling], suspect, number=telling)

    def _situated(self, case: Case, without: Sequence[str] = ()) -> Situation:
        """Return the situation with the item on the bench as the kit spells it."""
        item = self.situation.item
        return replace(self.situation, item=item and case.setup.items.name(item), without=tuple(without))

    def prepare(self, case: Case) -> None:
        """Get ready for a case that will grow trial by trial, while its first trial is being made."""
        with self._reasoning(case) as reasoner:
            reasoner.prepare()

    def warm(self, weapon: str) -> None:
        """Work out what the trials at the piste need, one by one, so that others can reason in between."""
        reasoner = self.reasoner(weapon)
        setup = self.setup(weapon)
        profile = load_profile(setup.profile, self.overlays)
        bare = Case("", "", "", setup, profile, (), (), (), (), None)
        self.diagnose(bare)
        for step in reasoner.preparations():
            with reasoner.lock:
                step()

    def weighed(self, diagnosis: Diagnosis, suspect: Suspect) -> list[float]:
        """Return how many bits each trial spoke for a suspect, or against it where negative."""
        with self._reasoning(diagnosis.case) as reasoner:
            return reasoner.weighed(diagnosis.trials, suspect.part)

    def misread(self, diagnosis: Diagnosis) -> list[float]:
        """Return the probability that each trial's lamps were misread."""
        with self._reasoning(diagnosis.case) as reasoner:
            return reasoner.misread(diagnosis.finding, diagnosis.trials)

    def alike(self, diagnosis: Diagnosis, count: int) -> list[AlikeSuspects]:
        """Return which of the first `count` suspects no trial at hand tells apart."""
        with self._reasoning(diagnosis.case) as reasoner:
            return reasoner.alike(diagnosis.finding, count, self._situated(diagnosis.case))

    def doubts(self, diagnosis: Diagnosis, count: int) -> Doubts:
        """Return what is to be said against taking the first `count` suspects at face value."""
        belief = diagnosis.finding.belief
        pairs = belief.by_pair(PAIRS) if belief.two > LIKELY else []
        misread = [(i, p) for i, p in enumerate(self.misread(diagnosis)) if p > LIKELY]
        return Doubts(tuple(pairs), tuple(misread), tuple(self.alike(diagnosis, count)))

    def proof(self, diagnosis: Diagnosis, suspect: Suspect, *, sure: float = 0.99) -> Proof:
        """Return the shortest set of trials that proves the repair of a suspect."""
        situation = self._situated(diagnosis.case)
        with self._reasoning(diagnosis.case) as reasoner:
            return reasoner.proof(diagnosis.finding, suspect, situation, sure=sure)

    def card(self, weapon: str | None, tools: Sequence[str], minutes: float, *, item: str | None = None) -> Tree:
        """Return the decision tree that is best for a weapon, the tools at hand and the time there is [min].

        `item`: what lies on the bench; None is the piste. Raises UnknownNameError.
        """
        reasoner = self.reasoner(weapon)
        on_bench = None if item is None else reasoner.setup.items.name(item)
        with reasoner.lock:
            adviser = reasoner.adviser(Mode.PISTE if on_bench is None else Mode.BENCH, on_bench)
            return build_tree(adviser, tuple(tools), 60 * minutes)

    def repair(self, case: Case, suspect: Suspect) -> Repair | None:
        """Return the usual repair of a suspect's failure; None where the kit names none."""
        return case.setup.repairs[suspect.failure.repair] if suspect.failure.repair else None

    def why(self, case: Case, trial: Trial, suspect: Suspect, *, number: int) -> Why:
        """Return what a suspect makes the lamps do in a trial, with the current's path or the cut; `number` counts from 0."""
        failure = None if _healed(suspect.part, suspect.item, trial) else suspect.failure
        made = [(failure, suspect.ohms)] if failure else []
        explained = explain_lamps(case.setup, case.profile, trial.arrangement, made)[_side(trial)]
        tools = explain_tools(case.setup, trial, failure, suspect.ohms)
        if tools:
            text = f"{tools} {explained.text}" if trial.seen else tools
            explained = replace(explained, text=text, circuits=explained.circuits if trial.seen else ())
        return Why(suspect, number, explained)

    def telling(self, diagnosis: Diagnosis, suspect: Suspect) -> int | None:
        """Return the trial that shows a suspect best, counted from 1; None where no lamps have been seen yet."""
        number = _telling(diagnosis.case, diagnosis.trials, suspect)
        return None if number is None else number + 1

    def reasoner(self, weapon: str | None) -> Reasoner:
        """Return what reasons about a weapon fitted as usual."""
        setup = self.setup(weapon)
        return self._kept(setup, load_profile(setup.profile, self.overlays))

    def idea(self, weapon: str, say: str) -> Idea | None:
        """Return the trial of the catalogue that a sentence asks for; None where there is none."""
        return self.reasoner(weapon).says.get(say)

    def offered(self, diagnosis: Diagnosis) -> tuple[Idea, ...]:
        """Return everything that is weighed up for a case in its situation, repairs to be tried among it."""
        with self._reasoning(diagnosis.case) as reasoner:
            return reasoner.candidate_trials(diagnosis.finding, self._situated(diagnosis.case))

    def ideas(self, case: Case) -> tuple[Idea, ...]:
        """Return every trial of the catalogue, at the piste and on the bench."""
        return self._reasoner(case).ideas

    @contextmanager
    def _reasoning(self, case: Case) -> Iterator[Reasoner]:
        """Have the reasoner of a case to oneself."""
        reasoner = self._reasoner(case)
        with reasoner.lock:
            yield reasoner

    def _reasoner(self, case: Case) -> Reasoner:
        return self._kept(case.setup, case.profile, case.fitted, self._good(case))

    def _good(self, case: Case) -> tuple[str, ...]:
        """Return the items that are not in question: those known good, and on the bench all but the one that lies there."""
        item = self._situated(case).item
        if item is None:
            return case.known_good
        return tuple(other.id for other in case.setup.items.values() if other.id != item and other.kind != "tools")

    def _kept(self, setup: Setup, profile: Profile, fitted: Fitted = (), known_good: tuple[str, ...] = ()) -> Reasoner:
        key = (setup.weapon, fitted, known_good, profile.name)
        with self._making:
            kept = self._reasoners.get(key)
            if kept is None:
                ideas = load_catalogue(setup, overlays=self.overlays)
                kept = self._reasoners.put(key, Reasoner(setup, profile, known_good=known_good, ideas=ideas))
            return kept

    # --- lamps ----------------------------------------------------------------------------------------------------

    def lamps(
        self,
        failure: Failure | None,
        ohms: float = math.nan,
        *,
        weapon: str | None = None,
        watch: Callable[[Sequence[Idea]], Iterable[Idea]] = lambda ideas: ideas,
    ) -> list[LampRow]:
        """Return what lights in every trial of the catalogue, with a failure at severity `ohms` [Ω] or with sound kit.

        `watch` passes the trials on, to show progress.
        """
        setup = self.setup(weapon)
        profile = load_profile(setup.profile, self.overlays)
        rows = []
        for idea in watch(load_catalogue(setup, overlays=self.overlays)):
            there = None if failure and _healed(failure.part, failure.item, idea.trial) else failure
            explained = explain_lamps(setup, profile, idea.trial.arrangement, [(there, ohms)] if there else [])
            rows.append(LampRow(idea, *(explained[side] for side in SIDES)))
        return rows

    def strip_ideas(self, weapon: str) -> tuple[Idea, ...]:
        """Return the trials of the catalogue that are made at the piste."""
        return tuple(idea for idea in self.reasoner(weapon).ideas if idea.item is None)

    def shown(self, weapon: str, failures: Sequence[tuple[Failure, float]], idea: Idea) -> dict[str, Explanation]:
        """Return by side what lights in a trial with `failures`, each at a severity [Ω], and why."""
        setup = self.setup(weapon)
        there = [(failure, ohms) for failure, ohms in failures if not _healed(failure.part, failure.item, idea.trial)]
        return explain_lamps(setup, load_profile(setup.profile, self.overlays), idea.trial.arrangement, there)

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

    # --- times ----------------------------------------------------------------------------------------------------

    def times(self, weapon: str | None) -> list[Window]:
        """Return the times that count at a weapon."""
        return [window for _, window in load_profile(self.setup(weapon).profile, self.overlays).times]

    def chance_both_register(self, weapon: str | None, apart: float) -> float:
        """Return the probability that two good hits `apart` milliseconds apart light both coloured lamps, on sound kit."""
        setup = self.setup(weapon)
        profile = load_profile(setup.profile, self.overlays)
        target = "lamé front" if "left lamé front" in setup.places else None
        lamps = []
        for side in SIDES:
            hit = Arrangement(press=side, on=target and f"{other(side)} {target}")
            lamps.append(explain_lamps(setup, profile, hit)[side].lamps)
        return chance_both_register(profile.time("block"), lamps[0], lamps[1], apart)

    # --- score ----------------------------------------------------------------------------------------------------

    def score(self, folder: Path, *, watch: Callable[[Sequence[Path]], Iterable[Path]] = lambda paths: paths) -> Score:
        """Return how the cases of a folder come out whose cause is known. `watch` passes the files on, to show progress."""
        paths = sorted(folder.glob("*.toml"))
        if not paths:
            seen = "there are no case files here" if folder.is_dir() else "there is no such folder"
            raise ProblemsError([Problem(str(folder), None, seen, "name a folder with *.toml case files")])
        scores = []
        for path in watch(paths):
            case = self.case(path)
            if case.expected is not None:
                scores.append(self._scored(path.stem, case))
        if not scores:
            seen = "none of the cases here has an [expect] table with its known cause"
            raise ProblemsError([Problem(str(folder), None, seen, "add [expect] with parts = [...] to the cases")])
        return Score(tuple(scores))

    def _scored(self, name: str, case: Case) -> CaseScore:
        finding = self._reasoner(case).find(case.trials)
        expected = case.expected
        parts, items = (expected.parts, expected.items) if expected else ((), frozenset[str]())
        return CaseScore(
            name=name,
            case=case,
            part_rank=_rank(finding.part_order, parts),
            item_rank=_rank(finding.item_order, items),
            top_part=finding.part_order[0],
            top_item=finding.item_order[0],
            unexplained=expected.unexplained if expected else "",
        )


def _rank(order: Sequence[str], true: Iterable[str]) -> int | None:
    places = [order.index(name) + 1 for name in true if name in order]
    return min(places, default=None)


def _healed(part: str, item: str, trial: Trial) -> bool:
    """Return whether a trial is made with the part put right or its item exchanged."""
    return part in trial.mended or item in trial.swapped


def _telling(case: Case, trials: Sequence[Trial], suspect: Suspect) -> int | None:
    """Return the last trial in which the suspect changes what lights, else the last one with lamps, else None."""
    lit = [i for i, trial in enumerate(trials) if trial.seen and trial.seen.looks]
    for i in reversed(lit):
        if _healed(suspect.part, suspect.item, trials[i]):
            continue
        made, sound = (
            explain_lamps(case.setup, case.profile, trials[i].arrangement, failures)[_side(trials[i])]
            for failures in ([(suspect.failure, suspect.ohms)], [])
        )
        if any(abs(made.lamps[lamp] - sound.lamps[lamp]) > 0.5 for lamp in made.lamps):  # noqa: PLR2004 — more likely than not
            return i
    shown = [i for i, trial in enumerate(trials) if trial.meter or trial.box or trial.gauge]
    return (lit or shown)[-1] if lit or shown else None


def _side(trial: Trial) -> str:
    """Return the side whose lamps a trial is about: the one that presses, else one that was looked at."""
    looked = [side for side, _ in trial.seen.looks] if trial.seen else []
    hit = [side for side, group in (trial.seen.looks if trial.seen else {}) if group is Group.HIT]
    return trial.arrangement.press or (hit or looked or list(SIDES))[0]
