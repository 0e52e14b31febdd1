"""An attempt, gone through step by step, in; out, the habits that led it astray, each in a sentence that says where."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.practice import NOTHING_WRONG, Deed, Level
from foible.services.practice.reasoned import case_of, share_of, situation_of, without_earth

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from foible.practice import Attempt, Judged
    from foible.services.practice.talk import TalkLine
    from foible.services.reasoning import Reasoning
    from foible.services.verdict import Diagnosis
    from foible.trials import TrialTable

__all__ = ["Flaw", "flaws_of", "unseeing"]

LITTLE = 0.35
"""Trials that tell less than this share of what the best would have told were not chosen for what they tell; judgement."""
SEVERAL = 3
"""So many of them make a habit; judgement, no source."""
UNLIKELY = 0.1
"""Going for an item less suspected than this, while another stands higher, is no conclusion; judgement, no source."""
LIKELY = 0.5
MUCH = 0.3
"""A trial that tells more was worth making anyway [bit]; judgement, no source."""
SENSIBLE = 2.0
"""A step makes sense to other eyes where it tells, or is suspected, so many times as much; judgement, no source."""


@dataclass(frozen=True, slots=True)
class Flaw:
    """One habit: its name for programs, and what is said of it."""

    name: str
    words: str


def flaws_of(reasoning: Reasoning, attempt: Attempt, result: Judged, lines: Sequence[TalkLine]) -> tuple[Flaw, ...]:
    """Return what led an attempt astray, the plainest first; empty where nothing did."""
    checks: tuple[Callable[[], Iterator[Flaw]], ...] = (
        lambda: _earth_unseen(reasoning, attempt, lines),
        lambda: _set_on_one(attempt, lines),
        lambda: _at_random(lines),
        lambda: _too_soon(result, lines),
        lambda: _word_taken(attempt, result),
    )
    return tuple(flaw for check in checks for flaw in check())


def _earth_unseen(reasoning: Reasoning, attempt: Attempt, lines: Sequence[TalkLine]) -> Iterator[Flaw]:
    """Look for a step that makes sense only without the lamp of an earthed line, which had answered it or spoken against it."""
    word = attempt.setup.kind.lamp_word("yellow")
    count = len(attempt.told)
    for number, line in enumerate(lines):
        if line.best and (line.bits < MUCH or line.done.idea is None):
            without = unseeing(reasoning, attempt, count)
            if without is not None and _sensible(line, line.done.item, without):
                seen = "was lit" if _lit(attempt.tables[:count], word) else "stayed dark"
                words = f"Step {number + 1} makes sense only to somebody who leaves out the {word} lamp, which {seen}."
                yield Flaw("earth lamp not used", words)
                return
        count += line.done.table is not None


def unseeing(reasoning: Reasoning, attempt: Attempt, trials: int) -> Diagnosis | None:
    """Return what is to be known after the first `trials` by somebody who never looks at the lamp of an earthed line.

    None where that is the same.
    """
    tables, word = list(attempt.tables[:trials]), attempt.setup.kind.lamp_word("yellow")
    blind = [without_earth(table, word) for table in tables]
    if blind == tables:
        return None
    return reasoning.at(situation_of(attempt.hidden)).diagnose(case_of(attempt.hidden, blind))


def _sensible(line: TalkLine, item: str, without: Diagnosis) -> bool:
    """Return whether a step would have been a good one after other trials."""
    if line.done.idea is None:
        return share_of(without, item) > max(SENSIBLE * line.share, 2 * UNLIKELY)
    bits = next((each.bits for each in without.advice if each.idea.say == line.done.idea.say), 0.0)
    return bits > max(SENSIBLE * line.bits, UNLIKELY)


def _set_on_one(attempt: Attempt, lines: Sequence[TalkLine]) -> Iterator[Flaw]:
    """Look for an item that was gone for although others stood higher."""
    for number, line in enumerate(lines):
        item = line.done.item
        before = lines[number - 1].standing if number else ()
        higher = [(name, share) for name, share in before if name != item and share > 2 * line.share]
        if (
            line.done.step.deed is not Deed.TRIAL
            and item != NOTHING_WRONG
            and line.share < 2 * UNLIKELY
            and (higher or not number)
        ):
            kind = attempt.setup.items[item].kind
            first = (
                f", while the {higher[0][0]} stood at {_percent(higher[0][1])}" if higher else ", before anything had been tried"
            )
            spoke = f" Step {line.cleared + 1} had already spoken against it." if line.cleared is not None else ""
            yield Flaw("set on one item", f"Step {number + 1} went for the {kind} at {_percent(line.share)}{first}.{spoke}")
            return


def _at_random(lines: Sequence[TalkLine]) -> Iterator[Flaw]:
    trials = [line for line in lines if line.done.step.deed is Deed.TRIAL and (line.best or line.bits)]
    little = [line for line in trials if line.best and line.bits < LITTLE * line.best_bits]
    if len(little) >= SEVERAL and 2 * len(little) >= len(trials):
        yield Flaw(
            "trials that tell little",
            f"{len(little)} of {len(trials)} trials could tell next to nothing new at the time. "
            "Ask of each: what would I see with the one suspect, what with the other?",
        )


def _too_soon(result: Judged, lines: Sequence[TalkLine]) -> Iterator[Flaw]:
    for number, line in enumerate(lines):
        if line.done.naming and line.share < LIKELY and line.best and not result.right:
            yield Flaw(
                "named too soon",
                f"Step {number + 1} named it at {_percent(line.share)}, while a trial was left that tells more: {line.best}.",
            )
            return


def _word_taken(attempt: Attempt, result: Judged) -> Iterator[Flaw]:
    """Look for a complaint that was believed and never seen."""
    if attempt.hidden.level is not Level.TOLD_WRONGLY or result.right or not attempt.told:
        return
    told = {name for table in attempt.told for name in table.model_fields_set - {"saw", "hearsay", "times", "sure"}}
    again = any(
        all(getattr(each.table, name) == getattr(attempt.told[0], name) for name in told) for each in attempt.done if each.table
    )
    if not again:
        yield Flaw("took the fencer’s word", "Nobody saw with their own eyes what the fencer told of, and it was told wrongly.")


def _lit(tables: Sequence[TrialTable], word: str) -> bool:
    """Return whether a report says that the lamp of an earthed line was lit."""
    return any(f" {word}" in phrase and f" no {word}" not in phrase for table in tables for phrase in table.saw)


def _percent(share: float) -> str:
    """Return a probability in whole hundredths, with a no-break space."""
    return "less than 1\u00a0%" if share < 0.005 else f"{share * 100:.0f}\u00a0%"  # noqa: PLR2004 — what rounds to none
