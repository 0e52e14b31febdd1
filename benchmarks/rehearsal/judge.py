"""The steps of a run and its ending in; what a master would say of them out, as README.md counts."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from benchmarks.rehearsal.patterns import Step, made, named, pattern

if TYPE_CHECKING:
    from collections.abc import Sequence

    from benchmarks.rehearsal.scenario import BadStep, Scenario
    from foible.trials import Trial

__all__ = ["Ended", "Judged", "Made", "ending_worth", "judged", "settled"]

RANDOM_REPEATS = 5
"""Fruitless repeats that are allowed in a scenario whose fault shows at random; elsewhere two trials alike are enough."""


@dataclass(frozen=True)
class Made:
    """A step with what came of it: whether every fault showed, and what guilty part an eye or gauge found."""

    step: Step
    shown: bool
    guilty: bool
    """Whether a guilty part was found by eye or gauge."""
    seconds: float
    say: str


@dataclass(frozen=True)
class Ended:
    """The ending that the program names: each act as kind and name, with every part that it puts right."""

    acts: tuple[tuple[str, str, frozenset[str]], ...]
    named_parts: tuple[str, ...] = ()
    """Parts with more than an even chance."""


@dataclass(frozen=True)
class Judged:
    """One run as a master sees it."""

    steps: tuple[tuple[str, str, str], ...]
    """Each step's sentence, “good”, “neutral” or “bad”, and why it is bad."""
    first: tuple[bool, ...]
    """Whether each of the first three steps is good; of those up to where it was settled, if that was earlier."""
    ending: float
    """1 for a right ending, ½ for half of one, else 0."""
    trials: int
    seconds: float
    in_limits: bool
    passed: bool

    @property
    def bad(self) -> tuple[str, ...]:
        """Why steps are bad."""
        return tuple(why for _, word, why in self.steps if word == "bad")


def judged(scenario: Scenario, run: Sequence[Made], ended: Ended | None) -> Judged:
    """Return what a master says of a run."""
    words = []
    for number, each in enumerate(run):
        why = _bad(scenario, run, number)
        words.append((each.say, "bad" if why else "good" if _good(scenario, each.step, number) else "neutral", why))
    needed = next((number for number in range(len(run)) if settled(scenario, run[:number])), len(run))
    first = tuple(word == "good" for _, word, _ in words[:3][:needed])
    ending = ending_worth(scenario, ended)
    counted = [each for each in run if not _is_the_ending(each.step, ended)]
    seconds = sum(each.seconds for each in counted)
    in_limits = len(counted) <= scenario.max_trials and seconds <= scenario.max_seconds
    passed = all(first) and not any(word == "bad" for _, word, _ in words) and ending == 1 and in_limits
    return Judged(tuple(words), first, ending, len(counted), seconds, in_limits, passed)


def _good(scenario: Scenario, step: Step, number: int) -> bool:
    """Return whether a step is among the first three and fits a pattern of its list or of an earlier one."""
    return number < len(scenario.good_steps) and any(
        pattern(text).fits(step) for texts in scenario.good_steps[: number + 1] for text in texts
    )


def settled(scenario: Scenario, run: Sequence[Made]) -> bool:
    """Return whether a master would stop after these steps."""
    return any(_made_all(scenario, wanted, run) for wanted in scenario.settled_by)


def _made_all(scenario: Scenario, wanted: Sequence[str], run: Sequence[Made]) -> bool:
    """Return whether every pattern of a list was made and told what it can tell."""
    for text in wanted:
        each = pattern(text)
        verbs = {verb for verb, _ in each.clauses}
        telling = []
        for entry in run:
            if not each.fits(entry.step):
                continue
            if verbs & {"look", "gauge"} and scenario.truth and not entry.guilty and _of_guilty(scenario, entry.step.trial):
                continue
            moving = scenario.kind.startswith("intermittent") and verbs & {"press", "cut", "move"}
            if moving and not entry.shown and not _guilty_exchanged(scenario, entry.step.trial):
                continue
            telling.append(entry)
        if sum(entry.step.trial.times for entry in telling) < each.times:
            return False
    return True


def _guilty(scenario: Scenario) -> list[str]:
    return [part for truth in scenario.truth if (part := truth.part or truth.stand_in_part)]


def _of_guilty(scenario: Scenario, trial: Trial) -> bool:
    """Return whether a look or gauge was of a guilty part."""
    if trial.gauge:
        return any(part.startswith(trial.gauge[0]) for part in _guilty(scenario))
    return any(named(name, part) for name in trial.examine for part in _guilty(scenario))


def _guilty_exchanged(scenario: Scenario, trial: Trial) -> bool:
    parts = _guilty(scenario)
    return bool(parts) and all(any(named(item, part) for item in trial.swapped) for part in parts)


# --- bad steps --------------------------------------------------------------------------------------------------------


def _bad(scenario: Scenario, run: Sequence[Made], number: int) -> str:  # noqa: PLR0911 — one return for each reason
    """Return why a step is bad; "" where it is not."""
    step, before = run[number].step, [each.step for each in run[:number]]
    for bad in scenario.bad_steps:
        if _is_bad(bad, step, before):
            return bad.say
    trial = step.trial
    alike = [each for each in before if each.trial.bare() == trial.bare()]
    allowed = RANDOM_REPEATS if scenario.behaviour.present == "random" else 2
    if len(alike) >= allowed:
        return "the same trial again, and the same came of it"
    seen = Counter(part for each in before for part in each.trial.examine)
    if any(seen[part] for part in trial.examine):
        return "the same place looked at twice"
    if any(item in _exchanged(before) for item in step.newly):
        return "an item exchanged twice"
    if settled(scenario, run[:number]) and not _carries_out(scenario, step):
        return "more trials after it was settled"
    broken = [part for part in _guilty(scenario) if part.endswith(" blade") and _is_broken(scenario)]
    if any(move.startswith(("bend", "beat")) and any(part in move for part in broken) for move in trial.moves):
        return "a broken blade bent or beaten"
    return ""


def _is_broken(scenario: Scenario) -> bool:
    return any(truth.mode == "broken" for truth in scenario.truth)


def _is_bad(bad: BadStep, step: Step, before: Sequence[Step]) -> bool:
    fitting = pattern(bad.step)
    if not fitting.fits(step):
        return False
    if bad.before and any(made([text], before) for text in bad.before):
        return False
    if bad.after and not any(made([text], before) for text in bad.after):
        return False
    return sum(fitting.fits(each) for each in before) + 1 >= bad.times


def _exchanged(steps: Sequence[Step]) -> set[str]:
    return {item for step in steps for item in step.trial.swapped}


def _carries_out(scenario: Scenario, step: Step) -> bool:
    """Return whether a step carries out an ending, or proves one that was carried out."""
    acted = {*step.trial.swapped, *step.trial.mended}
    for end in (*scenario.ends, *scenario.ends_half):
        for act in end.split(" + "):
            kind, _, name = act.partition(": ")
            if kind in {"exchange", "out of use"} and name in acted:
                return True
            if kind == "nothing wrong" and any(pattern(text).fits(step) for text in scenario.proof):
                return True
            if kind in {"mend", "set up", "handling"} and (name in acted or any(named(name, each) for each in acted)):
                return True
            if kind in {"mend", "handling"} and any(each.split(":")[0] and named(each.split(":")[0], name) for each in acted):
                return True
    return False


def _is_the_ending(step: Step, ended: Ended | None) -> bool:
    """Return whether a step is made with what the named ending exchanges or mends: that act itself, or its proof."""
    acted = {*step.trial.swapped, *step.trial.mended}
    return ended is not None and any(
        (kind == "exchange" and name in acted) or not acted.isdisjoint({name, *parts} if parts else ())
        for kind, name, parts in ended.acts
    )


# --- the ending -------------------------------------------------------------------------------------------------------


def ending_worth(scenario: Scenario, ended: Ended | None) -> float:
    """Return 1 for a right ending, ½ for half of one, else 0."""
    if ended is None:
        return 0.0
    if any(_is(end, ended) for end in scenario.ends):
        return 1.0
    if any(_is(end, ended) for end in scenario.ends_half):
        return 0.5
    wordless = [end.partition(": ")[2] for end in scenario.ends if end.startswith("out of use: ")]
    return 0.5 if any(name in {item for _, item, _ in ended.acts} for name in wordless) else 0.0


def _is(end: str, ended: Ended) -> bool:
    acts = end.split(" + ")
    return len(acts) == len(ended.acts) and all(any(_act_is(act, own, ended) for own in ended.acts) for act in acts)


def _says(words: str, part: str) -> bool:
    """Return whether a set-up told in words is about a part: whether they hold all the words of its name."""
    return set(part.split()[1:]) <= set(words.split())


def _act_is(act: str, own: tuple[str, str, frozenset[str]], ended: Ended) -> bool:
    wanted, _, name = act.partition(": ")
    kind, given, parts = own
    match wanted:
        case "nothing wrong":
            return kind == wanted and not ended.named_parts
        case "unknown":
            return kind == wanted
        case "handling":
            return kind == wanted and given.startswith(name)
        case "mend" | "set up":
            if kind not in {"mend", "set up", "handling"}:
                return False
            return name in parts or (wanted == "set up" and any(_says(name, part) for part in parts))
        case _:
            return kind == wanted and given == name
