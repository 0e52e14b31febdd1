"""The cases that are kept: opened from a complaint, answered trial by trial, taken up again after a restart."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from threading import Lock
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NamedTuple

from cachetools import LRUCache, cachedmethod

from foible.errors import Problem, ProblemsError, UnknownNameError
from foible.facts import facts_named
from foible.records import EntryKind, NewCase, NewEntry
from foible.services.given_names import GivenNames
from foible.services.kept_reading import kept_reading, todays_weapon
from foible.services.proving import proving_of
from foible.services.sentences import said_otherwise
from foible.situation import Mode, Situation, tools_named
from foible.trials import complaint_named, former_names, load_complaints, put_right, read_trial, report_key, reported

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from foible.diagnosis import Rates
    from foible.kit import Renamed, Setup
    from foible.records import CaseStore, Entry, KeptCase
    from foible.services.kept_reading import KeptReading, Unread
    from foible.services.photos import Album
    from foible.services.proving import Proving
    from foible.services.reasoning import Reasoning
    from foible.services.verdict import Diagnosis
    from foible.trials import Case, Complaint, Idea, Trial, TrialTable

    OwnRates = Callable[[str, Situation], Callable[[Setup], Rates] | None]

__all__ = ["FULL", "About", "Cases", "Standing", "dumped"]

FULL = 60
"""The most trials in a case; nobody makes so many, and each one costs computing time."""
STANDINGS = 256
"""Case versions for which the reading and the standing stay in memory."""


class About(NamedTuple):
    """Where a case is and whose kit it is, as free text, and what is fitted."""

    piste: str = ""
    fencer: str = ""
    fitted: Mapping[str, Mapping[str, str]] = MappingProxyType({})
    """Model by side and slot, of all that is not fitted as usual."""


NOBODY = About()


@dataclass(frozen=True)
class Standing:
    """Where a kept case stands."""

    kept: KeptCase
    case: Case = field(repr=False)
    numbers: tuple[int, ...]
    """The entry that each trial of the case comes from."""
    diagnosis: Diagnosis = field(repr=False)
    exchanged: tuple[str, ...]
    """Items replaced by known-good ones in an earlier trial."""
    mended: tuple[str, ...]
    skipped: tuple[tuple[int, str], ...]
    """(entry, sentence) of every trial that cannot be made now."""
    situation: Situation
    """Where the case is worked on, and with what."""
    unread: tuple[Unread, ...] = ()
    """Lines that today's kit cannot read, which are left out."""
    notices: tuple[Renamed, ...] = ()
    """Former names that were read as today's."""
    otherwise: Mapping[int, str] = field(default_factory=dict)
    """The sentences, by entry, that read otherwise since a line was taken back."""

    def sentence(self, entry: Entry) -> str:
        """Return what an entry says as the case stands now."""
        return self.otherwise.get(entry.number, entry.say)


class Cases:
    """Everything a surface can do with kept cases. A call that changes something has saved it before it returns."""

    def __init__(
        self, reasoning: Reasoning, store: CaseStore, album: Album | None = None, own_rates: OwnRates | None = None
    ) -> None:
        """`album` is where photos are kept, `own_rates` are those of the item that a case is about; None where there are none."""
        self.reasoning, self.own_rates = reasoning, own_rates
        self.store = store
        self.album = album
        self._readings: LRUCache[object, KeptReading] = LRUCache(STANDINGS)
        self._standings: LRUCache[object, Standing] = LRUCache(STANDINGS)
        self._provings: LRUCache[object, Proving | None] = LRUCache(STANDINGS)
        self._reading, self._standing, self._proving = Lock(), Lock(), Lock()

    def complaints(self, weapon: str, side: str) -> tuple[Complaint, ...]:
        """Return what a fencer on `side` may complain of."""
        return load_complaints(self.reasoning.setup(weapon), side)

    # --- opening --------------------------------------------------------------------------------------------------

    def open(  # noqa: PLR0913 — all of it is about one case
        self,
        weapon: str,
        *,
        title: str = "",
        token: str | None = None,
        about: About = NOBODY,
        where: Situation | None = None,
        first: Sequence[NewEntry] = (),
    ) -> KeptCase:
        """Open a case of which nobody complained; `where` it is worked on is by default the piste, `first` what is known."""
        setup = self.reasoning.setup(weapon)
        words = title.strip() or f"{setup.weapon.capitalize()}, something is wrong"
        return self.store.open(NewCase(setup.weapon, words, token=token, **_opening(setup, about, where)), first)

    def open_complaint(  # noqa: PLR0913 — all of it is one complaint
        self,
        weapon: str,
        say: str,
        side: str,
        *,
        token: str,
        title: str = "",
        by: str = "",
        about: About = NOBODY,
        where: Situation | None = None,
    ) -> KeptCase:
        """Open a case with a fencer's complaint, which is also its title where none is given."""
        setup = self.reasoning.setup(weapon)
        complaint = complaint_named(load_complaints(setup, side), say)
        first = NewEntry(EntryKind.TRIAL, token, say=complaint.say, trial=dumped(complaint.table), by=by, names=self.names)
        words = title.strip() or f"{setup.weapon.capitalize()}, {side}: {complaint.say}"
        new = NewCase(setup.weapon, words, complaint=complaint.say, token=token, **_opening(setup, about, where))
        return self.store.open(new, [first])

    # --- standing -------------------------------------------------------------------------------------------------

    def standing(self, name: str) -> Standing:
        """Return where a case stands. Raises UnknownNameError."""
        return self.standing_of(self.store.case(name))

    @cachedmethod(
        lambda self: self._standings,
        key=lambda self, kept: (kept.id, kept.version, self._rates(kept)),
        lock=lambda self: self._standing,
    )
    def standing_of(self, kept: KeptCase) -> Standing:
        """Return where a kept case stands. Raises UnreadableCaseError where the kit does not have its weapon."""
        reading = self._read(kept)
        without = [say for _, say in reading.skipped]
        diagnosis = self._reasoning(kept, reading.situation).diagnose(reading.case, without=without)
        return Standing(
            kept=kept,
            case=reading.case,
            numbers=reading.numbers,
            diagnosis=diagnosis,
            exchanged=reading.last.swapped if reading.last else (),
            mended=reading.last.mended if reading.last else (),
            skipped=reading.skipped,
            situation=reading.situation,
            unread=reading.unread,
            notices=reading.notices,
            otherwise=said_otherwise(self.reasoning, kept, reading.case, reading.numbers),
        )

    @cachedmethod(lambda self: self._readings, key=lambda _, kept: (kept.id, kept.version), lock=lambda self: self._reading)
    def _read(self, kept: KeptCase) -> KeptReading:
        """Return what can be read of a kept case. Raises UnreadableCaseError."""
        return kept_reading(kept, self.reasoning.overlays)

    def reasoning_of(self, standing: Standing) -> Reasoning:
        """Return the reasoning in the situation of a case."""
        return self._reasoning(standing.kept, standing.situation)

    def _reasoning(self, kept: KeptCase, situation: Situation) -> Reasoning:
        """Return the reasoning in a situation; where a case is about a registered item, with what its own history says."""
        reasoning = self.reasoning.at(situation)
        own = self.own_rates(kept.title, situation) if self.own_rates else None
        return reasoning if own is None else reasoning.taught(own)

    def _rates(self, kept: KeptCase) -> Rates:
        """Return the rates that a kept case is reasoned with. Raises UnreadableCaseError."""
        reading = self._read(kept)
        return self._reasoning(kept, reading.situation).rates(reading.case.setup)

    @cachedmethod(
        lambda self: self._provings,
        key=lambda _, standing: (standing.kept.id, standing.kept.version),
        lock=lambda self: self._proving,
    )
    def proving(self, standing: Standing) -> Proving | None:
        """Return how what was put right last is proved; None where nothing is, or the fencer's own kit is refitted."""
        if not (standing.exchanged or standing.mended):
            return None
        return proving_of(self.reasoning_of(standing), standing.diagnosis)

    def offered(self, standing: Standing, say: str | None = None) -> Idea | None:
        """Return the trial that a sentence asks for, or the one to make first; None where no trial would tell more."""
        if say is None:
            advice = standing.diagnosis.advice
            return advice[0].idea if advice else None
        return self.asked(standing.kept, say)

    def asked(self, kept: KeptCase, say: str) -> Idea:
        """Return the trial that a sentence asks for in a case: one of the catalogue, or a repair to be made and looked at.

        Raises UnknownNameError.
        """
        setup = self.setup_of(kept)
        idea = self.reasoning.idea(setup, say)
        if idea is None:  # no sentence of today: former ones are looked up in files, which an answer of today need not wait for
            say = GivenNames(self.reasoning.overlays).say(say, self.weapon(kept))
            idea = self.reasoning.idea(setup, say)
        if idea is None:
            standing = self.standing_of(kept)
            proving = self.proving(standing)
            known = {each.say: each for each in standing.diagnosis.candidates}
            known |= {advice.idea.say: advice.idea for advice in standing.diagnosis.advice}
            known |= {each.say: each for line in (proving.lines if proving else ()) for each in line.ideas}
            if say not in known:
                raise UnknownNameError(what="trial", name=say, known=known)
            idea = known[say]
        return idea

    # --- answering ------------------------------------------------------------------------------------------------

    def answer(self, case: KeptCase | str, asked: Idea | str, report: Sequence[str], *, token: str, by: str = "") -> KeptCase:
        """Note the result of an offered trial, or of the one that a sentence asks for; `report` is written as in a case file.

        An answer with a known token was sent again because its reply was lost: it is not looked at, as the case has moved on,
        and the trial may not even be among those that can be asked for any more. Raises ProblemsError with all that is wrong.
        """
        kept = self.store.case(case) if isinstance(case, str) else case
        if kept.has_heard(token):
            return kept
        idea = self.asked(kept, asked) if isinstance(asked, str) else asked
        table = reported(idea.table, report_key(idea), report, last=self.last(kept))
        return self._note(kept, table, NewEntry(EntryKind.TRIAL, token, say=idea.say, by=by))

    def note(self, name: str, table: TrialTable, *, token: str, by: str = "") -> KeptCase:
        """Note a trial of the user's own. Raises ProblemsError with all that is wrong."""
        kept = self.store.case(name)
        return kept if kept.has_heard(token) else self._note(kept, table, NewEntry(EntryKind.TRIAL, token, by=by))

    def acted(
        self, name: str, *, exchanged: Sequence[str] = (), mended: Sequence[str] = (), token: str, by: str = ""
    ) -> KeptCase:
        """Note that items were exchanged, and parts or repairs (“item: repair”) done, before anything is tried with them.

        Raises ProblemsError with all that is wrong.
        """
        kept = self.store.case(name)
        if kept.has_heard(token):
            return kept
        if not (exchanged or mended):
            remedy = "name an item, a part or a repair"
            raise ProblemsError([Problem("your answer", None, "nothing is exchanged or mended", remedy)])
        return self._note(kept, put_right(self.last(kept), exchanged, mended), NewEntry(EntryKind.TRIAL, token, by=by))

    def _note(self, kept: KeptCase, table: TrialTable, entry: NewEntry) -> KeptCase:
        return self.store.add(kept.id, self.checked(kept, table, entry))

    def checked(self, kept: KeptCase, table: TrialTable, entry: NewEntry) -> NewEntry:
        """Return an entry with its trial. Raises ProblemsError with all that is wrong."""
        table = GivenNames(self.reasoning.overlays).trial(table, self.weapon(kept))
        trial, wrong = read_trial(self.setup_of(kept), table)
        problems = [Problem("your answer", None, error.seen, error.remedy) for _, error in wrong]
        if sum(entry.kind is EntryKind.TRIAL for entry in kept.standing) >= FULL:
            problems.append(Problem(f"case {kept.id}", None, f"it has {FULL} trials already", "open another case"))
        if problems:
            raise ProblemsError(problems)
        said = entry.say or self.said(kept, trial)
        return replace(entry, say=said, trial=dumped(table), names=self.names)

    def said(self, kept: KeptCase, trial: Trial) -> str:
        """Return what was done in a trial: the sentence that asks for it, where there is one, else a phrase of what was done."""
        return self.reasoning.said(self.setup_of(kept), trial, self.last(kept))

    def weapon(self, kept: KeptCase) -> str:
        """Return what the weapon of a kept case is called today."""
        return todays_weapon(kept, self.reasoning.overlays)

    @property
    def names(self) -> int:
        """The version of the kit's names that entries are written in."""
        return former_names(self.reasoning.overlays).version

    def setup_of(self, kept: KeptCase) -> Setup:
        """Return the set-up of a case, with what is fitted. Raises UnreadableCaseError."""
        return self._read(kept).case.setup

    def last(self, kept: KeptCase) -> TrialTable | None:
        """Return the trial whose exchanges and repairs still hold."""
        return self._read(kept).last

    def skip(self, name: str, say: str, *, token: str, by: str = "") -> KeptCase:
        """Note that a trial cannot be made now."""
        kept = self.store.case(name)
        if kept.has_heard(token):
            return kept
        idea = self.asked(kept, say)
        return self.store.add(name, NewEntry(EntryKind.SKIP, token, say=idea.say, by=by, names=self.names))

    def back(self, name: str, *, token: str, by: str = "") -> KeptCase:
        """Note that all of the fencer's own kit is refitted."""
        return self.store.add(name, NewEntry(EntryKind.BACK, token, by=by, names=self.names))

    def take_back(self, name: str, number: int) -> KeptCase:
        """Take an entry back. Of a photo only its line stays: whoever takes one back wants it gone."""
        kept = self.store.take_back(name, number)
        for entry in kept.entries:
            if entry.number == number and entry.photo and self.album:
                self.album.drop(entry.photo)
        return kept

    def move(
        self, name: str, *, place: Mode, item: str | None, tools: Sequence[str], facts: Sequence[str] | None = None
    ) -> KeptCase:
        """Work on a case at the piste or on the bench, with these tools, where these facts hold. Raises UnknownNameError.

        Facts that are None stay as they are.
        """
        setup = self.setup_of(self.store.case(name))
        if item and place is Mode.BENCH:
            item = setup.items.name(GivenNames(self.reasoning.overlays).item(item, setup.weapon))
        else:
            item = None
        known = None if facts is None else facts_named(facts)
        return self.store.move(name, place=place.value, item=item, tools=tools_named(tools), facts=known)


def _opening(setup: Setup, about: About, where: Situation | None) -> dict[str, Any]:
    """Return what the records keep of where a new case is; an item that the weapon's kit does not have is left out."""
    at = where or Situation(tools=Mode.PISTE.usual_tools)
    item = setup.items.name(at.item) if at.item and at.item in setup.items and at.mode is Mode.BENCH else None
    here = {"piste": about.piste.strip(), "fencer": about.fencer.strip(), "fitted": about.fitted}
    return here | {"place": at.mode.value, "item": item, "tools": at.tools, "facts": at.facts}


def dumped(table: TrialTable) -> dict[str, object]:
    """Return a trial as the records take it."""
    return table.model_dump(mode="json", exclude_defaults=True)
