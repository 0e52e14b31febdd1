"""A hidden fault and what somebody did about it, as one short word, in; out, what each step showed and what it took.

Nothing of it has to be kept: what a strip shows follows from its number, so a word with the steps is the whole attempt.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from enum import Enum
from functools import cached_property
from typing import TYPE_CHECKING, TypeVar

from foible.diagnosis import Activity, asking_s
from foible.errors import InputError
from foible.kit import WHOLE_SIDE
from foible.trials import TrialTable, read_trial, reported

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.kit import Setup
    from foible.practice.hidden import Hidden
    from foible.trials import Complaint, Idea

Thing = TypeVar("Thing")

__all__ = ["NOTHING_WRONG", "Attempt", "Deed", "Done", "Naming", "Step", "jobs_of", "read_steps", "written_steps"]

NOTHING_WRONG = "nothing wrong"
FLICKERS = "flickers"
"""What a report says of a lamp that comes and goes."""
LONGEST = 60
"""Steps that an attempt can have."""
PUTTING_RIGHT_S = 20.0
"""What it takes to put right what is not exchanged [s]; judgement, no source."""
FENCING_ON_S = 60.0
"""How long they fence on until the fencer comes again, if something is wrong [s]; judgement, no source."""
_STEP = re.compile(r"([txmn])(\d+)(?:\.(\d+))?")


class Deed(Enum):
    """What a step is; the value is its letter."""

    TRIAL = "t"
    EXCHANGE = "x"
    MEND = "m"
    NAME = "n"


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that somebody did. `number`: of the trial in the catalogue, the item, the repair, or the item named plus one."""

    deed: Deed
    number: int
    part: int | None = None
    """Of what is named, the part among all parts."""


@dataclass(frozen=True, slots=True)
class Naming:
    """What somebody says it is."""

    item: str
    """The item, or “nothing wrong”."""
    part: str = ""


@dataclass(frozen=True, slots=True)
class Done:
    """A step with what came of it."""

    step: Step
    say: str
    """What was done, in words."""
    table: TrialTable | None
    """The trial with its report, as a case file writes it; None where only a name was given."""
    seconds: float
    euro: float = 0.0
    idea: Idea | None = None
    naming: Naming | None = None
    item: str = ""
    """What is exchanged, mended or named; empty for a trial."""


def jobs_of(setup: Setup) -> tuple[str, ...]:
    """Return every repair that can be made on a set-up, as “item: repair”."""
    return tuple(sorted({failure.job for failure in setup.failures.values()}))


def written_steps(steps: Sequence[Step]) -> str:
    """Return steps as the word that addresses hold."""
    return "-".join(f"{s.deed.value}{s.number}{'' if s.part is None else f'.{s.part}'}" for s in steps)


def read_steps(text: str) -> tuple[Step, ...]:
    """Return the steps that a word stands for. Raises InputError."""
    steps = []
    for token in text.split("-") if text else ():
        match = _STEP.fullmatch(token)
        if match is None:
            raise InputError(seen=f"“{token}” is no step of an attempt", remedy="use the address as it was given, whole")
        steps.append(Step(Deed(match[1]), int(match[2]), int(match[3]) if match[3] else None))
    if len(steps) > LONGEST:
        raise InputError(seen=f"an attempt of {len(steps)} steps", remedy=f"end it within {LONGEST}, and begin again")
    return tuple(steps)


@dataclass(frozen=True)
class Attempt:
    """What somebody has done so far about a hidden fault. `ideas` are the trials of the catalogue."""

    hidden: Hidden
    ideas: Sequence[Idea] = field(repr=False)
    steps: tuple[Step, ...]

    @property
    def setup(self) -> Setup:
        """The kit that it is about."""
        return self.hidden.setup

    @cached_property
    def done(self) -> tuple[Done, ...]:
        """Every step with what came of it. Raises InputError where one names what this kit does not have."""
        done: list[Done] = []
        last: TrialTable | None = None
        for turn, step in enumerate(self.steps):
            made = self._done(step, turn, last)
            last = made.table or last
            done.append(made)
        return tuple(done)

    @cached_property
    def told(self) -> tuple[TrialTable, ...]:
        """What the fencer told, as a trial; empty where nobody complained."""
        return (self.hidden.complaint.table,) if self.hidden.complaint else ()

    @cached_property
    def tables(self) -> tuple[TrialTable, ...]:
        """Every trial with its report, what the fencer told in front."""
        return (*self.told, *(each.table for each in self.done if each.table is not None))

    @property
    def seconds(self) -> float:
        """The time that it took [s]."""
        return sum(each.seconds for each in self.done)

    @property
    def euro(self) -> float:
        """What the parts used cost."""
        return sum(each.euro for each in self.done)

    @property
    def namings(self) -> tuple[Naming, ...]:
        """What was named, in turn."""
        return tuple(each.naming for each in self.done if each.naming)

    @property
    def swapped(self) -> tuple[str, ...]:
        """The items exchanged by now."""
        return self.tables[-1].swapped if self.tables else ()

    @property
    def mended(self) -> tuple[str, ...]:
        """The repairs made by now."""
        return self.tables[-1].mended if self.tables else ()

    @cached_property
    def jobs(self) -> tuple[str, ...]:
        """Every repair that can be made."""
        return jobs_of(self.setup)

    @property
    def trials_made(self) -> int:
        """How many trials were made."""
        return sum(step.deed is Deed.TRIAL for step in self.steps)

    def then(self, step: Step) -> Attempt:
        """Return the attempt with one more step."""
        return Attempt(self.hidden, self.ideas, (*self.steps, step))

    # --- steps ----------------------------------------------------------------------------------------------------

    def _done(self, step: Step, turn: int, last: TrialTable | None) -> Done:
        if step.deed is Deed.TRIAL:
            return self._tried(step, turn, last)
        if step.deed is Deed.NAME and step.number == 0:
            return self._fenced_on(step, last)
        return self._looked(self._put_right(step, last), turn)

    def _put_right(self, step: Step, last: TrialTable | None) -> Done:
        if step.deed is Deed.NAME:
            return self._named(step, last)
        if step.deed is Deed.EXCHANGE:
            return self._exchanged(step, self._at(list(self.setup.items), step.number, "item"), last)
        return self._mended(step, self._at(self.jobs, step.number, "repair"), last)

    def _looked(self, done: Done, turn: int) -> Done:
        """Return something put right with the lamps as everybody sees them then, nobody doing anything; on the bench as it is."""
        if self.hidden.item or done.table is None:
            return done
        trial, _ = read_trial(self.setup, done.table, answered=False)
        return replace(done, table=done.table.model_copy(update={"saw": self.hidden.kit.answer(trial, turn).told}))

    def _tried(self, step: Step, turn: int, last: TrialTable | None) -> Done:
        idea = self._at(self.ideas, step.number, "trial")
        table = reported(idea.table, "saw", (), last=last)
        trial, _ = read_trial(self.setup, table, answered=False)
        answer = self.hidden.kit.answer(trial, turn)
        told = answer.told[0] if answer.key == "reads" else answer.told
        new = [item for item in idea.table.swapped if last is None or item not in last.swapped]
        seconds = idea.seconds + asking_s(idea) + sum(self.setup.items[self.setup.items.name(i)].exchange_s or 0.0 for i in new)
        seen: dict[str, object] = {answer.key: told}
        say = idea.say
        noticed = self.hidden.kit.noticed(trial) if answer.key == "saw" else None
        if noticed:
            part, sign = noticed
            seen |= {"examine": (part,), "found": (sign,)}
            say = f"{say}: the {part} was {sign}"
        return Done(step, say, table.model_copy(update=seen), seconds, idea=idea)

    def _exchanged(self, step: Step, item: str, last: TrialTable | None) -> Done:
        seconds = self.setup.items[item].exchange_s
        if seconds is None:
            raise InputError(seen=f"the {item} cannot be exchanged", remedy="put it right instead")
        table = reported(TrialTable(swapped=(item,)), "saw", (), last=last)
        return Done(step, f"exchange the {item}", table, seconds, item=item)

    def _mended(self, step: Step, job: str, last: TrialTable | None) -> Done:
        failure = next(each for each in self.setup.failures.values() if each.job == job)
        repair = self.setup.repairs[failure.repair] if failure.repair else None
        table = reported(TrialTable(mended=(job,)), "saw", (), last=last)
        if repair is None:
            return Done(step, job, table, PUTTING_RIGHT_S, item=failure.item)
        seconds = 60 * repair.minutes if self.hidden.item or repair.piste_s is None else repair.piste_s
        return Done(step, job, table, seconds, repair.price, item=failure.item)

    def _named(self, step: Step, last: TrialTable | None) -> Done:
        """Return that something was named, and put right at once: exchanged where it can be, else mended."""
        item = self._at(list(self.setup.items), step.number - 1, "item")
        part = "" if step.part is None else self._at(list(self.setup.parts), step.part, "part")
        seconds = self.setup.items[item].exchange_s
        already = last is not None and item in last.swapped
        if seconds is not None:
            act = TrialTable(swapped=(item,))
        else:
            act = TrialTable(mended=tuple(sorted({f.job for f in self.setup.failures.values() if f.item == item})))
        table = reported(act, "saw", (), last=last)
        spent = 0.0 if already else PUTTING_RIGHT_S if seconds is None else seconds
        return Done(step, f"it is the {part or item}", table, spent, naming=Naming(item, part), item=item)

    def _fenced_on(self, step: Step, last: TrialTable | None) -> Done:
        """Return that nothing is said to be wrong: they fence on, and where something is, the same complaint comes again."""
        naming, hidden = Naming(NOTHING_WRONG), self.hidden
        out = {*last.swapped, *last.mended} if last else set[str]()
        if hidden.complaint is None or not hidden.left_by(out):
            return Done(step, NOTHING_WRONG, None, 0.0, naming=naming, item=NOTHING_WRONG)
        told = self._watched(hidden.complaint)
        return Done(
            step, NOTHING_WRONG, reported(told, "saw", told.saw, last=last), FENCING_ON_S, naming=naming, item=NOTHING_WRONG
        )

    def _watched(self, complaint: Complaint) -> TrialTable:
        """Return what a fencer tells of as it comes again while everybody watches.

        A lamp that is lit by what comes and goes is not lit all the time: it comes up while they fence.
        """
        told = complaint.table.model_copy(update={"hearsay": 0.0})
        lit = [phrase for phrase in told.saw if not {"no", "nothing"} & {*phrase.split()}]
        still = not (told.press or told.cut or told.move)
        if not lit or not still or all(fault.activity is Activity.STEADY for fault in self.hidden.faults):
            return told
        comes = tuple(phrase if phrase.endswith(FLICKERS) else f"{phrase} {FLICKERS}" for phrase in lit)
        return told.model_copy(update={"times": 1, "move": (f"{WHOLE_SIDE} {complaint.side}",), "saw": comes})

    @staticmethod
    def _at(things: Sequence[Thing], number: int, what: str) -> Thing:
        if number >= len(things):
            raise InputError(seen=f"there is no {what} number {number} in this kit", remedy="begin the exercise again")
        return things[number]
