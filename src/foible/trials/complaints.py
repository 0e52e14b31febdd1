"""A weapon's complaints file in; out, what fencers say when something is wrong, each with the trial that it amounts to."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

from pydantic import Field

from foible.apparatus import Lamp
from foible.errors import Problem, ProblemsError, UnknownNameError
from foible.kit import SIDES, filled, kit_stamp, overlaid_file, plain, side_words
from foible.tomlfile import Strict, Words, line_of, read_model, read_table, toml_lines
from foible.trials.catalogue import SHIPPED
from foible.trials.read import TrialTable, read_trial
from foible.trials.seen import looks_of
from foible.trials.trial import BOTH, STATE, Seen, groups_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.kit import Setup
    from foible.trials.trial import Trial

__all__ = ["Complaint", "complained_of", "complaint_named", "load_complaints", "with_unsaid"]

SETUPS = 8
"""Set-ups whose complaints stay in memory."""


class ComplaintTable(Strict):
    """One complaint of a file: the fencer's words and the keys of a trial, with `{side}` and `{other}` to be filled in."""

    say: str
    press: str | None = None
    cut: str | None = None
    on: str | None = None
    touching: Words = ()
    move: Words = ()
    saw: Words
    hearsay: float = Field(0.0, ge=0, lt=1)
    """How often there is nothing wrong when that is said and nobody has watched."""
    sure: bool = False
    """Whether it stays before everybody's eyes, as a lamp does that is lit all the time."""
    times: int = Field(1, ge=1)
    """How many looks it stands for: what is on all the time has been looked at time and again."""
    lights_on: str | None = None
    """A place on which hits do light, which goes without saying."""
    missing: Literal["{side}", "{other}"] | None = None
    """The side whose hits do not show as they should."""
    spurious: Literal["{side}", "{other}"] | None = None
    """The side whose lamp lights without a good hit."""


class ComplaintFile(Strict):
    """The complaints about one weapon."""

    complaint: tuple[ComplaintTable, ...]


@dataclass(frozen=True, slots=True)
class Complaint:
    """What a fencer on one side says, and the trial that it amounts to."""

    say: str
    side: str
    table: TrialTable
    unsaid: tuple[Trial, ...] = ()
    """What goes without saying."""
    missing: str | None = None
    """The side whose hits do not show as they should; None where that is not what is said."""
    spurious: str | None = None
    """The side whose lamp lights without a good hit."""


def load_complaints(setup: Setup, side: str) -> tuple[Complaint, ...]:
    """Return what a fencer on `side` may complain of. Raises ProblemsError where a file names something the kit does not have."""
    return _loaded(setup, side, kit_stamp(setup.overlays))


@lru_cache(maxsize=2 * SETUPS)
def _loaded(setup: Setup, side: str, stamp: object) -> tuple[Complaint, ...]:
    """Return the complaints, read again only where `stamp` shows that the overlay files have changed."""
    del stamp
    path = overlaid_file(SHIPPED, "complaints", setup.kind.word, setup.overlays)
    complaints, problems = [], []
    for number, table in enumerate(read_model(ComplaintFile, path).complaint):
        keys = table.model_dump(exclude={"say", "lights_on", "missing", "spurious"}, exclude_defaults=True)
        trial = TrialTable.model_validate(filled(keys, side_words(side)))
        told, wrong = read_trial(setup, trial)
        unsaid: tuple[Trial, ...] = ()
        if table.lights_on and told.arrangement.press:
            there = filled({"on": table.lights_on}, side_words(side))
            lit, further = read_trial(setup, trial.model_copy(update=there))
            wrong += [("lights_on", error) for _, error in further]
            unsaid = (replace(lit, hearsay=0.0, seen=_lights(setup, told.arrangement.press)),)
        for key, error in wrong:
            line = line_of(toml_lines(read_table(path)[1]), ("complaint", number, key))
            problems.append(Problem(str(path), line, error.seen, error.remedy))
        whose = filled({"missing": table.missing, "spurious": table.spurious}, side_words(side))
        complaints.append(Complaint(table.say, side, trial, unsaid, whose["missing"], whose["spurious"]))
    if problems:
        raise ProblemsError(problems)
    return tuple(complaints)


def with_unsaid(setup: Setup, words: str, trials: Sequence[Trial]) -> tuple[Trial, ...]:
    """Return trials of a case, the first with what goes without saying where `words` are a complaint that they begin with."""
    if not words or not trials:
        return tuple(trials)
    first, *others = trials
    known = [complaint for side in SIDES for complaint in load_complaints(setup, side) if plain(complaint.say) == plain(words)]
    fitting = (complaint.unsaid for complaint in known for each in complaint.unsaid if _alike(each, first))
    return (replace(first, unsaid=next(fitting, ())), *others)


def complained_of(setup: Setup, words: str, trials: Sequence[Trial]) -> Complaint | None:
    """Return the complaint that a case begins with, with the side whose it is; None where it is none of the known ones."""
    if not words or not trials:
        return None
    known = (complaint for side in SIDES for complaint in load_complaints(setup, side) if plain(complaint.say) == plain(words))
    told = replace(trials[0], unsaid=())
    return next((each for each in known if _as_told(read_trial(setup, each.table)[0]) == _as_told(told)), None)


def _as_told(trial: Trial) -> object:
    """Return what tells a complaint of one side from the same complaint of the other."""
    return trial.arrangement, trial.moves, trial.seen and trial.seen.looks


def _alike(unsaid: Trial, first: Trial) -> bool:
    """Return whether what goes without saying is about hits of the side that a case begins with."""
    return unsaid.arrangement.press == first.arrangement.press


def _lights(setup: Setup, side: str) -> Seen:
    """Return what is seen where hits of a side light, now and then at least."""
    hit = groups_of(setup.kind)[0]
    lit = {STATE[Lamp.COLOURED], BOTH}
    return Seen({(side, hit): frozenset(look for look in looks_of(hit) if lit & set(look))}, (f"{side} coloured",))


def complaint_named(complaints: Sequence[Complaint], say: str) -> Complaint:
    """Return a complaint by its words. Raises UnknownNameError."""
    for complaint in complaints:
        if plain(complaint.say) == plain(say):
            return complaint
    raise UnknownNameError(what="complaint", name=say, known=[complaint.say for complaint in complaints])
