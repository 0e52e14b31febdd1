"""Where a case stands in, the values that its pages show out."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from typing import TYPE_CHECKING

from foible.diagnosis import Kind, seen_to_injure
from foible.errors import UnknownNameError
from foible.facts import ORANGE_LAMPS
from foible.output.lamp_words import lamp_words
from foible.records import EntryKind
from foible.services.verdict import wrong_words
from foible.trials import Group
from foible.web.act_band import band_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from foible.diagnosis import Circuit, Suspect
    from foible.kit import Weapon
    from foible.services.cases import Cases, Standing
    from foible.services.proving import Proving
    from foible.services.verdict import AboutSuspect, Verdict
    from foible.trials import Idea, Trial
    from foible.web.act_band import Band

__all__ = ["Board", "Line", "Stage", "SuspectView", "board", "earth_lamp_known", "suspect_view"]

SHOWN = 5
"""Suspects on the board."""


class Stage(Enum):
    """What the card on the page of a case is about."""

    TRIALS = "trials"
    PROOF = "proof"
    """Something was put right; its proof is to pass line by line."""
    ENDED = "ended"


@dataclass(frozen=True)
class Line:
    """One entry of a case, as pages show it."""

    number: int
    kind: str
    done: str
    seen: str
    by: str
    taken_back: bool
    misread: float
    unread: str
    """Why today's kit cannot read it; else empty."""
    ruled: str
    """What its reading or gauge comes to against the rulebook; else empty."""
    photo: bool
    """Whether it is a photo that can be looked at."""


@dataclass(frozen=True)
class Board:
    """What the page of a case shows."""

    stage: Stage
    idea: Idea | None
    """The trial that is asked for."""
    verdict: Verdict
    band: Band
    proving: Proving | None
    lines: tuple[Line, ...]
    last: int | None
    """The entry that “undo” takes back."""
    again: bool
    """Whether the offered trial was made before."""
    proves: bool
    """Whether it does again what failed, to prove what was put right."""
    of_proof: bool
    """Whether it belongs to the proof: a line has failed, and what was seen is asked for."""

    stop_seen: bool
    """Whether somebody has seen that something can injure, so that nothing more is tried with it."""

    @property
    def stop(self) -> bool:
        """Whether something is to be taken out of use."""
        return self.verdict.act is not None and self.verdict.act.ending.acts[0].kind is Kind.OUT_OF_USE

    @property
    def tried(self) -> bool:
        """Whether there is a trial to reason from."""
        return any(line.kind == EntryKind.TRIAL.value and not line.taken_back for line in self.lines)


@dataclass(frozen=True)
class SuspectView:
    """What the page of a suspect shows."""

    about: AboutSuspect
    wrong: str
    number: int | None
    """The trial that is explained, counted from 1; None where no trial was made yet."""
    trial: Trial | None
    circuit: Circuit | None
    weights: tuple[tuple[int, str, float], ...]
    """(trial, what was done, bits for it) for every trial."""
    suspicion: Mapping[str, float] = field(repr=False)

    @property
    def suspect(self) -> Suspect:
        """The suspect."""
        return self.about.suspect

    @property
    def text(self) -> str:
        """Why its lamps do what they do in the trial that is explained."""
        return self.about.why.explanation.text if self.about.why else ""

    @property
    def lamps(self) -> Mapping[str, Mapping[str, float]]:
        """Probability of each lamp in that trial, by side."""
        why = self.about.why
        return {why.explanation.side: why.explanation.lamps} if why else {}

    @property
    def others_alike(self) -> tuple[str, ...]:
        """Other suspects that nothing at hand separates from it."""
        group = self.about.alike
        return tuple(name for name in group.parts if name != self.suspect.part) if group else ()


def board(cases: Cases, standing: Standing, say: str | None = None) -> Board:
    """Return what the page of a case shows; `say` picks a trial other than the one to make first. Raises UnknownNameError."""
    diagnosis, proving = standing.diagnosis, cases.proving(standing)
    verdict = cases.reasoning_of(standing).verdict(diagnosis, SHOWN)
    seen = _injures(standing)
    idea = None if seen and say is None else cases.offered(standing, say)
    if standing.kept.closed:
        stage = Stage.ENDED
    else:
        stage = Stage.PROOF if proving and not proving.failed and say is None else Stage.TRIALS
    return Board(
        stage=stage,
        idea=idea if stage is Stage.TRIALS else None,
        verdict=verdict,
        band=band_of(standing, verdict),
        proving=proving,
        lines=_lines(standing, dict(verdict.doubts.misread)),
        last=next((e.number for e in reversed(standing.kept.standing) if e.kind is not EntryKind.END), None),
        again=idea is not None and diagnosis.made_before(idea.trial),
        proves=bool(diagnosis.advice) and idea == diagnosis.advice[0].idea and diagnosis.advice[0].proves,
        stop_seen=seen,
        of_proof=proving is not None and any(idea == each for line in proving.lines for each in line.ideas),
    )


def _injures(standing: Standing) -> bool:
    """Return whether the last trial has found what can injure."""
    made = standing.diagnosis.trials
    return bool(made) and seen_to_injure(standing.case.setup.failures.values(), made[-1]) is not None


def earth_lamp_known(standing: Standing) -> bool:
    """Return whether the apparatus has the lamps that it may do without: then one that nobody touched was dark."""
    told = (group for trial in standing.case.trials if trial.seen for _, group in trial.seen.looks)
    return ORANGE_LAMPS in standing.case.facts or Group.YELLOW in told


def _lines(standing: Standing, misread: Mapping[int, float]) -> tuple[Line, ...]:
    trials = dict(zip(standing.numbers, enumerate(standing.case.trials), strict=True))
    unread = {line.number: line for line in standing.unread}
    verdicts = {number: judgement.words for number, judgement in standing.diagnosis.judgements}
    lines = []
    for entry in standing.kept.entries:
        done, seen, doubt, why, ruled = standing.sentence(entry), "", 0.0, "", ""
        if entry.number in trials:
            position, trial = trials[entry.number]
            seen, doubt = seen_words(trial, standing.case.setup.kind), misread.get(position, 0.0)
            ruled = verdicts.get(position, "")
        elif entry.number in unread:
            seen, why = unread[entry.number].seen, unread[entry.number].words
        elif entry.kind is EntryKind.BACK:
            done = "own kit refitted"
        photo = bool(entry.photo) and not entry.taken_back
        lines.append(Line(entry.number, entry.kind.value, done, seen, entry.by, entry.taken_back, doubt, why, ruled, photo))
    return tuple(lines)


def seen_words(trial: Trial, weapon: Weapon) -> str:
    """Return the result of a trial."""
    said = [*(lamp_words(trial.seen.text, weapon) if trial.seen else ()), *trial.found]
    if trial.reads:
        said.append(trial.reads.words)
    said += [f"{pair} {'flickers' if (0, 1) in looks else 'lit'}" for pair, looks in trial.lights if looks != frozenset({(0, 0)})]
    if trial.box and not any(looks != frozenset({(0, 0)}) for _, looks in trial.lights):
        said.append("nothing lit on the test box")
    return ", ".join(said)


def suspect_view(cases: Cases, standing: Standing, part: str, number: int | None) -> SuspectView:
    """Return what the page of a suspect shows; `number` picks the trial that is explained. Raises UnknownNameError."""
    diagnosis, reasoning = standing.diagnosis, cases.reasoning_of(standing)
    known = {suspect.part: suspect for suspect in diagnosis.finding.suspects}
    suspect = known.get(part)
    if suspect is None:
        raise UnknownNameError(what="suspect", name=part, known=known)
    if number is not None and number > len(diagnosis.trials):
        raise UnknownNameError(what="trial", name=str(number), known=[str(i + 1) for i in range(len(diagnosis.trials))])
    about = reasoning.about(diagnosis, suspect, among=SHOWN, trial=None if number is None else number - 1)
    says = {entry.number: standing.sentence(entry) for entry in standing.kept.entries}
    made = zip(standing.numbers, about.weights, strict=True)
    return SuspectView(
        about=about,
        wrong=wrong_words(suspect, diagnosis.trials),
        number=about.why.trial + 1 if about.why else None,
        trial=diagnosis.trials[about.why.trial] if about.why else None,
        circuit=_circuit_to_draw(about.why.explanation.circuits, suspect) if about.why else None,
        weights=tuple((i + 1, says[number], bits) for i, (number, bits) in enumerate(made)),
        suspicion={s.part: s.probability for s in diagnosis.finding.suspects}
        | {share.name: share.probability for share in diagnosis.finding.items},
    )


def _circuit_to_draw(circuits: tuple[Circuit, ...], suspect: Suspect) -> Circuit | None:
    """Return the circuit to draw: one that the suspect cuts or is part of, else the first that leads anywhere."""
    failure = suspect.failure
    own = {failure.part, *failure.raises, *failure.sets, *(failure.exchange or ())}
    named = [circuit for circuit in circuits if own & {*circuit.cuts, *circuit.way}]
    joined = [circuit for circuit in circuits if any(" = " in step for step in circuit.way)]
    return next(iter((*named, *joined, *(circuit for circuit in circuits if circuit.way))), None)
