"""A case in which something was put right, in; out, the proof line by line, and which lines have passed or failed since.

Nothing of a proof is kept but the trials made for it. What was put right, and what was known before it was, say which lines there
are; the trials made since say how each of them stands. So a line passed by another device, or taken back, shows at once.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum
from typing import TYPE_CHECKING

from foible.diagnosis import MOST_LINES
from foible.endings import CaseEnding
from foible.kit import job_parts
from foible.trials import read_trial, report_key, reported

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.diagnosis import Finding, Proof, Suspect
    from foible.kit import Setup
    from foible.services.reasoning import Reasoning
    from foible.services.verdict import Diagnosis
    from foible.trials import Idea, Trial

__all__ = ["LineState", "Proving", "ProvingLine", "passing_report", "proving_of"]

NOTHING = ("nothing",)


class LineState(Enum):
    """How a line of a proof stands."""

    OPEN = "open"
    PASSED = "passed"
    FAILED = "failed"


@dataclass(frozen=True)
class ProvingLine:
    """One line: a trial, perhaps several times, or the gauges of one set, with what it must show."""

    say: str
    shows: str
    times: int
    seconds: float
    ideas: tuple[Idea, ...]
    state: LineState

    @property
    def gauged(self) -> bool:
        """Whether it is answered by “passes” or “fails” and nothing else."""
        return all(idea.trial.gauge for idea in self.ideas)


@dataclass(frozen=True)
class Proving:
    """What was put right, and how its proof stands."""

    exchanged: tuple[str, ...]
    mended: tuple[str, ...]
    behind: tuple[Suspect, ...]
    """What the repairs put right, as it was suspected before them, the likeliest first."""
    lines: tuple[ProvingLine, ...]
    before: float
    """Probability that all was well once it was put right, before any line."""
    after: float
    """The same once every line has passed, those left out among them."""
    left_out: int
    """Lines of the proofs of several things that are not among these, as a proof has so many at most."""
    left: bool
    """Whether something else was tried since that sends the case back to the reasoning."""

    @property
    def failed(self) -> bool:
        """Whether the case goes on, as a line failed or something else was tried."""
        return self.left or any(line.state is LineState.FAILED for line in self.lines)

    @property
    def passed(self) -> bool:
        """Whether there are lines, and all of them have passed."""
        return bool(self.lines) and not self.failed and all(line.state is LineState.PASSED for line in self.lines)

    @property
    def open(self) -> tuple[ProvingLine, ...]:
        """The lines that are to pass yet."""
        return tuple(line for line in self.lines if line.state is LineState.OPEN)

    @property
    def things(self) -> tuple[str, ...]:
        """What was put right: items, and parts or repairs."""
        return (*self.exchanged, *self.mended)

    @property
    def ending(self) -> CaseEnding:
        """How the case would end now."""
        if not self.passed:
            return CaseEnding.UNPROVED
        return CaseEnding.EXCHANGED if self.exchanged else CaseEnding.MENDED


def proving_of(reasoning: Reasoning, diagnosis: Diagnosis) -> Proving | None:
    """Return how what was put right last is proved; None where nothing was.

    `reasoning` is that of the case's situation. Trials made with it put right before anybody said that it stays so count.
    """
    trials = diagnosis.trials
    acted = max((number for number, trial in enumerate(trials) if trial.acts), default=None)
    if acted is None:
        return None
    act = trials[acted]
    earlier = trials[acted - 1] if acted else None
    exchanged, mended = (
        tuple(name for name in getattr(act, key) if earlier is None or name not in getattr(earlier, key))
        for key in ("swapped", "mended")
    )
    if not (exchanged or mended):  # it was put right for an earlier trial, and stays so
        exchanged, mended = act.swapped, act.mended
    first = next(number for number in range(acted + 1) if all(_has(trial, act) for trial in trials[number : acted + 1]))
    finding = reasoning.find(replace(diagnosis.case, trials=trials[:first]))
    known = replace(diagnosis, trials=trials[:first], finding=finding)
    proofs = [reasoning.proof(known, suspect) for suspect in _suspects(finding, exchanged, mended)]
    every = _lines(proofs)
    lines = every[:MOST_LINES]
    tried, since = trials[first:], trials[acted + 1 :]
    setup = diagnosis.case.setup
    stood = tuple(replace(line, state=_state(setup, line, tried, since)) for line in lines)
    ours = {idea.trial for line in lines for idea in line.ideas}
    strange = [trial for trial in since if not trial.acts and trial.with_own_kit() not in ours]
    sent_back = bool(strange) and not diagnosis.decision.proved and not any(advice.proves for advice in diagnosis.advice)
    behind = tuple(each for each in finding.suspects if {each.failure.job, each.part} & {*mended})
    before, after = min(each.before for each in proofs), min(each.after for each in proofs)
    return Proving(exchanged, mended, behind, stood, before, after, len(every) - len(lines), left=sent_back)


def _has(trial: Trial, act: Trial) -> bool:
    return {*act.swapped} <= {*trial.swapped} and {*act.mended} <= {*trial.mended}


def _suspects(finding: Finding, exchanged: Sequence[str], mended: Sequence[str]) -> list[Suspect]:
    """Return the suspect behind each thing that was put right; for an exchange one stands for all its item can have."""
    found: list[Suspect] = []
    for suspect in finding.suspects:
        if suspect.item in exchanged and all(suspect.item != known.item for known in found):
            found.append(replace(suspect, failure=replace(suspect.failure, repair=None)))
    for name in mended:
        item, repair = job_parts(name)
        fitting = (each for each in finding.suspects if name in {each.part, each.failure.job} or (repair and each.item == item))
        found += [suspect for suspect in fitting if suspect not in found][:1]
    return found or list(finding.suspects[:1])


def _lines(proofs: Sequence[Proof]) -> list[ProvingLine]:
    """Return the lines of all proofs together, each once, the first of each proof in front."""
    lines: dict[tuple[str, ...], ProvingLine] = {}
    for rank in range(MOST_LINES):
        for proof in proofs:
            for line in proof.lines[rank : rank + 1]:
                made = ProvingLine(line.say, line.shows, line.times, line.seconds, line.ideas, LineState.OPEN)
                lines.setdefault(tuple(idea.say for idea in line.ideas), made)
    return list(lines.values())


def _state(setup: Setup, line: ProvingLine, tried: Sequence[Trial], since: Sequence[Trial]) -> LineState:
    passes = []
    for idea in line.ideas:
        wanted, wrong = read_trial(setup, reported(idea.table, report_key(idea), passing_report(idea, line.shows)))
        if any(not _passes(trial, wanted) for trial in since if trial.with_own_kit() == idea.trial):
            return LineState.FAILED
        passes.append(
            not wrong
            and sum(trial.times for trial in tried if trial.with_own_kit() == idea.trial and _passes(trial, wanted)) >= line.times
        )
    return LineState.PASSED if passes and all(passes) else LineState.OPEN


def _passes(trial: Trial, wanted: Trial) -> bool:
    """Return whether a trial has shown what a line must show."""
    if wanted.seen:
        seen = trial.seen.looks if trial.seen else {}
        both = wanted.seen.looks.keys() & seen.keys()
        return bool(both) and all(not wanted.seen.looks[key].isdisjoint(seen[key]) for key in both)
    if wanted.reads:
        reads = trial.reads
        return reads is not None and not reads.wobbles and reads.low < wanted.reads.high and reads.high > wanted.reads.low
    return (trial.found, dict(trial.lights)) == (wanted.found, dict(wanted.lights))


def passing_report(idea: Idea, shows: str) -> tuple[str, ...]:
    """Return what a line must show in the words of a case file: a reading between two values is one under the upper."""
    match report_key(idea):
        case "reads":
            return ("open",) if shows == "open" else (f"under {shows.removesuffix(' Ω').split(' ')[-1]}",)
        case "lights":
            return tuple(pair.removesuffix(" lit") for pair in shows.split(", ")) if shows != "no lamp" else NOTHING
        case "found":
            return (shows,)
        case _:
            return tuple(shows.split(", "))
