"""What a page shows of a case, picked out of the façade's answers. Words and picks only, no reckoning."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from foible.errors import UnknownNameError
from foible.output.words import LIKELY, SURE, act_words, behaviour_words, severity_words
from foible.records import EntryKind
from foible.trials import described

if TYPE_CHECKING:
    from collections.abc import Mapping

    from foible.diagnosis import Circuit, Proof, Suspect
    from foible.kit import Repair
    from foible.services.cases import Cases, Standing
    from foible.services.reasoning import Doubts
    from foible.trials import Idea, Trial

__all__ = ["Board", "Line", "SuspectLine", "SuspectView", "board", "suspect_view"]

SHOWN = 5
"""Suspects on the board."""
LEAST_ITEM = 0.01


@dataclass(frozen=True)
class Line:
    """One thing that was said in a case."""

    number: int
    kind: str
    done: str
    seen: str
    by: str
    taken_back: bool
    misread: float
    unread: str
    """Why the kit of today cannot read it; else empty."""


@dataclass(frozen=True)
class SuspectLine:
    """One row of the suspects."""

    part: str
    item: str
    wrong: str
    probability: float


@dataclass(frozen=True)
class Board:
    """What the page of a case shows beside the trial that is offered."""

    suspects: tuple[SuspectLine, ...]
    items: tuple[tuple[str, float], ...]
    rest: tuple[tuple[str, float], ...]
    act: str
    """What to do now, where that is better than to try on; else empty."""
    chance: float
    enough: bool
    doubts: Doubts
    lines: tuple[Line, ...]
    last: int | None
    """The entry that “undo” takes back."""
    again: bool
    """Whether the offered trial was made before."""


@dataclass(frozen=True)
class SuspectView:
    """What the page of a suspect shows."""

    suspect: Suspect
    wrong: str
    text: str
    """Why its lamps do what they do in the trial that is looked at."""
    number: int | None
    """That trial, counted from 1; None where no trial was made yet."""
    trial: Trial | None
    circuit: Circuit | None
    lamps: Mapping[str, Mapping[str, float]]
    weights: tuple[tuple[int, str, float], ...]
    """(trial, what was done, bits for it) of every trial."""
    repair: Repair | None
    proof: Proof
    alike: tuple[str, ...]
    """Other suspects that nothing at hand tells from it."""
    alike_repairs: tuple[str, ...]
    splits: Idea | None
    suspicion: Mapping[str, float] = field(repr=False)


def board(cases: Cases, standing: Standing, idea: Idea | None) -> Board:
    """Return what the page of a case shows."""
    diagnosis, finding = standing.diagnosis, standing.diagnosis.finding
    reasoning = cases.reasoning_of(standing)
    tried = bool(diagnosis.trials)
    doubts = reasoning.doubts(diagnosis, SHOWN)
    aim, chance = diagnosis.decision.aims[0]
    worth = tried and ((diagnosis.decision.enough and chance > LIKELY) or chance >= SURE or not diagnosis.advice)
    shown = finding.suspects[:SHOWN] if tried else ()
    others = 1 + finding.belief.two - sum(s.probability for s in shown) - finding.sound - finding.unknown
    return Board(
        suspects=tuple(SuspectLine(s.part, s.item, wrong_words(s, standing), s.probability) for s in shown),
        items=tuple((share.name, share.probability) for share in finding.items if share.probability >= LEAST_ITEM)[:SHOWN],
        rest=(
            ("other parts", max(others, 0.0)),
            ("two failures at once", finding.belief.two),
            ("nothing wrong", finding.sound),
            ("not in this model", finding.unknown),
        ),
        act=act_words(diagnosis.decision.mode, aim) if worth else "",
        chance=chance,
        enough=diagnosis.decision.enough,
        doubts=doubts,
        lines=_lines(standing, dict(doubts.misread)),
        last=standing.kept.standing[-1].number if standing.kept.standing else None,
        again=idea is not None and idea.trial.unseen() in [trial.unseen() for trial in diagnosis.trials],
    )


def wrong_words(suspect: Suspect, standing: Standing) -> str:
    """Return what is wrong with a suspect, how much, and whether it comes and goes."""
    said = (suspect.failure.mode, severity_words(suspect, standing.diagnosis.trials), behaviour_words(suspect))
    return ", ".join(filter(None, said))


def _lines(standing: Standing, misread: Mapping[int, float]) -> tuple[Line, ...]:
    trials = dict(zip(standing.numbers, enumerate(standing.case.trials), strict=True))
    unread = {line.number: line for line in standing.unread}
    lines = []
    for entry in standing.kept.entries:
        done, seen, doubt, why = entry.say, "", 0.0, ""
        if entry.number in trials:
            position, trial = trials[entry.number]
            seen, doubt = seen_words(trial), misread.get(position, 0.0)
        elif entry.number in unread:
            seen, why = unread[entry.number].seen, unread[entry.number].words
        elif entry.kind is EntryKind.BACK:
            done = "the fencer's own kit is in again"
        lines.append(Line(entry.number, entry.kind.value, done, seen, entry.by, entry.taken_back, doubt, why))
    return tuple(lines)


def seen_words(trial: Trial) -> str:
    """Return what came of a trial."""
    said = [*(trial.seen.text if trial.seen else ()), *trial.found]
    if trial.reads:
        said.append(f"{trial.reads.text} Ω" if trial.reads.text[:1].isdigit() else trial.reads.text)
    said += [pair + (" flickers" if (0, 1) in looks else "") for pair, looks in trial.lights if looks != frozenset({(0, 0)})]
    if trial.box and not any(looks != frozenset({(0, 0)}) for _, looks in trial.lights):
        said.append("no lamp of the box")
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
    chosen = number or reasoning.telling(diagnosis, suspect)
    trial = diagnosis.trials[chosen - 1] if chosen else None
    why = reasoning.why(standing.case, trial, suspect, number=chosen - 1) if trial and chosen else None
    bits = reasoning.weighed(diagnosis, suspect)
    group = next((g for g in reasoning.alike(diagnosis, SHOWN) if suspect.part in g.parts), None)
    return SuspectView(
        suspect=suspect,
        wrong=wrong_words(suspect, standing),
        text=why.explanation.text if why else "",
        number=chosen,
        trial=trial,
        circuit=_circuit_to_draw(why.explanation.circuits, suspect) if why else None,
        lamps={why.explanation.side: why.explanation.lamps} if why else {},
        weights=tuple((i + 1, described(made), bit) for i, (made, bit) in enumerate(zip(diagnosis.trials, bits, strict=True))),
        repair=reasoning.repair(standing.case, suspect),
        proof=reasoning.proof(diagnosis, suspect),
        alike=tuple(name for name in group.parts if name != suspect.part) if group else (),
        alike_repairs=group.repairs if group else (),
        splits=group.splits if group else None,
        suspicion={s.part: s.probability for s in diagnosis.finding.suspects}
        | {share.name: share.probability for share in diagnosis.finding.items},
    )


def _circuit_to_draw(circuits: tuple[Circuit, ...], suspect: Suspect) -> Circuit | None:
    """Return the circuit to draw: one that the suspect cuts or lies in, else the first that leads anywhere."""
    failure = suspect.failure
    own = {failure.part, *failure.raises, *failure.sets, *(failure.exchange or ())}
    named = [circuit for circuit in circuits if own & {*circuit.cuts, *circuit.way}]
    joined = [circuit for circuit in circuits if any(" = " in step for step in circuit.way)]
    return next(iter((*named, *joined, *(circuit for circuit in circuits if circuit.way))), None)
