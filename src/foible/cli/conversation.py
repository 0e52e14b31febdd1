"""A case step by step: the next trial is offered, and the answer is saved at once."""

from __future__ import annotations

import contextlib
import sys
import tomllib
from typing import TYPE_CHECKING

from pydantic import ValidationError
from rich.text import Text

from foible.cli.finishing import chosen_line, ending_of_words, passing_tables, show_proving
from foible.cli.heading import begun_text, described_text
from foible.cli.show import show_next, show_referee, show_suspects, show_why
from foible.cli.terminal import write_whole
from foible.errors import InputError, Problem, ProblemsError
from foible.services.proving import proving_of
from foible.trials import (
    TrialTable,
    case_text,
    earth_unsaid,
    ended_text,
    put_right,
    read_trial,
    report_key,
    reported,
    signs_of,
)

with contextlib.suppress(ImportError):
    import readline  # noqa: F401 — gives input() line editing where the system has it

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from rich.console import Console

    from foible.diagnosis import Act
    from foible.services.proving import Proving
    from foible.services.reasoning import Reasoning
    from foible.services.verdict import Diagnosis
    from foible.trials import Case, Idea, Trial

__all__ = ["Conversation"]

HELP = """Answer with what lit: nothing · white · coloured · yellow · orange · white flickers · coloured sometimes
(separate several with commas; with no side named, the side being tried is meant; red is left, green is right).
Or: exchanged / mended (as said above; or name what: exchanged left cord · mended left cord: push the plug home) ·
passed 1 · failed 1 (a line of the proof) · close (as proved; or say how: close no fault found · close out of use) ·
skip (cannot do that now) · other (choose another trial) · own (write a trial) · back (own kit refitted) · undo · why ·
referee (the hit, a card, the time) · title, piste, fencer (with what to write there) ·
fitted left socket bayonet · done"""
SUSPECTS = 5
"""Suspects that are shown before each question."""
CAUTION = (
    "Twist, tug and bend gently, and never a broken blade; never open the apparatus or its supply at the piste. "
    "Foible advises; the officials decide."
)


class Conversation:
    """One case being worked on. Each answer is written to the file before the next question."""

    def __init__(self, reasoning: Reasoning, path: Path, console: Console) -> None:
        self._reasoning = reasoning
        self._path = path
        self._console = console
        self._added: list[tuple[TrialTable, Trial]] = []
        self._skipped: list[str] = []
        self._prepared = False
        self._back = False
        """Whether the kit exchanged for the last trial has been refitted."""

    def hold(self) -> None:
        """Go on until the user is done or the input ends."""
        if not self._path.exists():
            write_whole(self._path, begun_text(self._reasoning, self._read, self._say).encode())
        self._load()
        for notice in self._case.notices:
            self._say(f"{notice}.")
        self._check()
        self._say(CAUTION, "dim")
        self._say(HELP, "dim")
        while self._step(self._case):
            pass
        self._say(f"Saved in {self._path}; `foible diagnose {self._path}` shows it again.", "dim")

    def _load(self) -> None:
        """Read the file, which has everything that was said so far."""
        self._case = self._reasoning.case(self._path, allow_empty=True)
        self._text = self._path.read_text(encoding="utf-8-sig")
        self._added = []

    def _check(self) -> None:
        """Refuse a file that no trial can be added to, before any answer is asked for."""
        try:
            tomllib.loads(self._text + "\n[[trial]]\n")
        except tomllib.TOMLDecodeError as error:
            remedy = "write each trial as a table of its own, headed [[trial]]"
            raise ProblemsError([Problem(str(self._path), None, "no trial can be added to this file", remedy)]) from error

    def _step(self, case: Case) -> bool:
        """Show where the case stands, take one answer; return False at the end."""
        trials = [*case.trials, *(trial for _, trial in self._added)]
        diagnosis = self._reasoning.diagnose(case, trials, without=self._skipped)
        self._console.print()
        verdict = self._reasoning.verdict(diagnosis, SUSPECTS)
        if trials:
            show_suspects(self._console, verdict)
        proving = proving_of(self._reasoning, diagnosis) if trials and not self._back else None
        if proving and not proving.failed:
            show_proving(self._console, case.setup.kind, proving)
        else:
            show_next(self._console, diagnosis, verdict)
        idea = diagnosis.advice[0].idea if diagnosis.advice else None
        if not self._prepared:
            self._reasoning.prepare(case)
            self._prepared = True
        answer = self._read(_prompt(case, idea) if idea else "other, own, undo or done? ")
        try:
            ended = self._finish(answer or "", case, proving)
        except InputError as error:
            self._say(f"{error.seen}: {error.remedy}; nothing was noted.")
            return True
        return self._obey(answer, case, diagnosis, idea) if ended is None else not ended

    def _finish(self, answer: str, case: Case, proving: Proving | None) -> bool | None:
        """Take an answer about the proof or the ending; return whether it closes the case, None where it is neither."""
        match answer.lower().split():
            case ["passed", *which] if proving or which:
                for table in passing_tables(chosen_line(proving, which), self._last(case)):
                    self._note(case, table)
            case ["failed", *which]:
                for each in chosen_line(proving, which).ideas:
                    self._say(each.say, "bold")
                    self._answer(case, each, self._read(_prompt(case, each)) or "")
            case ["close", *words]:
                ending, things = ending_of_words(" ".join(words), proving)
                self._text = ended_text(self._text, ending.value, things)
                self._keep()
                self._say(f"Closed: {ending.value}{': ' if things else ''}{', '.join(things)}.", "bold")
                return True
            case _:
                return None
        return False

    def _obey(  # noqa: C901 — one case for each word
        self, answer: str | None, case: Case, diagnosis: Diagnosis, idea: Idea | None
    ) -> bool:
        match (answer or "").lower().split():
            case [] if answer is None:
                return False
            case ["done" | "quit" | "end"]:
                return False
            case [] | ["?" | "help"]:
                self._say(HELP, "dim")
            case ["undo" | "back" as word]:
                (self._undo if word == "undo" else self._put_back)()
            case ["title" | "piste" | "fencer" | "fitted" as what, *_]:
                self._describe(what, (answer or "")[len(what) :].strip())
            case ["why" | "referee" as word]:
                self._explain(word, diagnosis)
            case ["skip"] if idea:
                self._skipped.append(idea.say)
            case ["other"]:
                self._other(case, diagnosis)
            case ["own"]:
                self._own(case)
            case ["exchanged" | "mended" as what, *_]:
                self._acted(case, diagnosis, what, (answer or "")[len(what) :].strip())
            case _ if idea:
                self._answer(case, idea, answer or "")
            case _:
                self._say(HELP, "dim")
        return True

    def _explain(self, word: str, diagnosis: Diagnosis) -> None:
        """Say why the first suspect is one, or what the rulebook tells the referee."""
        if word == "why":
            show_why(self._console, self._reasoning, diagnosis, diagnosis.why)
            return
        verdict = self._reasoning.verdict(diagnosis, SUSPECTS)
        show_referee(self._console, verdict)
        if not verdict.referee:
            self._say("There is nothing to tell a referee on the bench, or before anything was tried.")

    def _other(self, case: Case, diagnosis: Diagnosis) -> None:
        """Let the user choose among the trials worth making."""
        offered = diagnosis.advice[:12]
        for number, entry in enumerate(offered, start=1):
            self._say(f"{number:>3}  {entry.idea.say}")
        choice = self._read("which number? ") or ""
        if not choice.isdecimal() or not 1 <= int(choice) <= len(offered):
            self._say(f"“{choice}” is not a number from 1 to {len(offered)}; nothing was noted.")
            return
        idea = offered[int(choice) - 1].idea
        self._say(idea.say, "bold")
        answer = self._read(_prompt(case, idea))
        if answer:
            self._answer(case, idea, answer)

    def _own(self, case: Case) -> None:
        """Take a trial of the user's own, as the lines of a case file."""
        self._say('Lines as in a case file, such as press = "left"; finish with an empty line.', "dim")
        lines = []
        while line := self._read("| "):
            lines.append(line)
        try:
            table = TrialTable.model_validate(tomllib.loads("\n".join(lines)))
        except (tomllib.TOMLDecodeError, ValidationError) as error:
            self._say(f"That cannot be read ({str(error).splitlines()[0]}); nothing was noted.")
            return
        self._note(case, table)

    def _answer(self, case: Case, idea: Idea, answer: str) -> None:
        key = report_key(idea)
        phrases = [answer] if key == "reads" else [part.strip() for part in answer.split(",") if part.strip()]
        if key == "saw":
            phrases = [_sided(phrase, idea.table.press or idea.table.cut or idea.side) for phrase in phrases]
            if idea.once and not side_named(phrases):
                self._say("Say which side: “left white”, “right yellow”, or “nothing”; nothing was noted.")
                return
            phrases += self._earth_lamps(case, phrases)
        self._note(case, reported(idea.table, key, phrases, last=self._last(case)))

    def _acted(self, case: Case, diagnosis: Diagnosis, what: str, name: str) -> None:
        """Note that something was exchanged or mended: what is named, or what the advice would have one do now."""
        names = [name] if name else [each for each in map(_by_word(what), diagnosis.ending.acts) if each]
        if not names:
            self._say(f"Say what was {what}: “{what} left cord”, for example; nothing was noted.")
            return
        exchanged, mended = (names, []) if what == "exchanged" else ([], names)
        self._note(case, put_right(self._last(case), exchanged, mended))

    def _describe(self, what: str, words: str) -> None:
        """Change the top of the file; with something else fitted, the case is read anew."""
        before, text = self._path.read_bytes(), self._text
        try:
            self._text = described_text(text, what, words)
            self._keep()
            if what == "fitted":
                self._load()
                self._prepared = False
        except InputError as error:  # the file would name parts that are no longer there, or things that the kit does not have
            write_whole(self._path, before)
            self._text = text
            self._say(f"{error}; nothing was changed.")
        else:
            self._say("Changed.", "dim")

    def _last(self, case: Case) -> TrialTable | None:
        """Return the trial whose exchanges and repairs still hold."""
        tables = [*case.tables, *(added for added, _ in self._added)]
        return None if self._back or not tables else tables[-1]

    def _earth_lamps(self, case: Case, phrases: list[str]) -> list[str]:
        """Ask after the yellow or orange lamp where it has been lit before and the answer says nothing of it."""
        word = case.setup.kind.lamp_word("yellow")
        trials = [*case.trials, *(trial for _, trial in self._added)]
        told = []
        for side in earth_unsaid(trials, phrases):
            match (self._read(f"and was {side} {word} lit (yes, no; Enter if nobody looked)? ") or "").lower():
                case "yes" | "y":
                    told.append(f"{side} {word}")
                case "no" | "n":
                    told.append(f"{side} no {word}")
        return told

    def _note(self, case: Case, table: TrialTable) -> None:
        """Check a trial and save it; an impossible one is refused with the reasons."""
        trial, wrong = read_trial(case.setup, table)
        if wrong:
            for key, error in wrong:
                self._say(f"{key}: {error}; nothing was noted.")
            return
        self._added.append((table, trial))
        self._back = False
        if table.swapped:
            self._say(f"Exchanged so far: {', '.join(table.swapped)}. Enter “back” once the fencer's own kit is refitted.", "dim")
        self._keep()

    def _put_back(self) -> None:
        self._back = True
        self._say("Note that the next trials are made with the fencer's own kit again.")

    def _undo(self) -> None:
        if not self._added:
            self._say("There is no answer from this session to undo; earlier trials are in the file.")
            return
        self._added.pop()
        self._keep()

    def _keep(self) -> None:
        tables = [table.model_dump(exclude_defaults=True) for table, _ in self._added]
        text = self._text.rstrip("\n") + "\n\n" + case_text({}, tables).lstrip("\n")
        write_whole(self._path, text.encode())

    def _read(self, prompt: str) -> str | None:
        """Return a line of input, or None at its end."""
        try:
            return input(prompt).encode("utf-8", "surrogateescape").decode("utf-8", "replace").strip()
        except EOFError:
            sys.stdout.write("\n")
            return None

    def _say(self, text: str, style: str = "") -> None:
        self._console.print(Text(text, style=style))


def _by_word(what: str) -> Callable[[Act], str]:
    """Return what tells, of an act, what was exchanged or mended in it."""
    return lambda act: (act.item if not act.repair else "") if what == "exchanged" else act.repair


def _prompt(case: Case, idea: Idea) -> str:
    """Return the question to ask, with the possible answers where they are not lamps."""
    signs = signs_of(case.setup, idea)
    return {
        "reads": "what does it read (ohms, “open”, or “2 to 6” if it wobbles)? ",
        "lights": "what lit (“nothing”, “A-B”, “B-C flickers”)? ",
        "found": f"{' or '.join(signs)}? " if idea.trial.gauge else f"what did you find ({', '.join(signs)})? ",
        "saw": "what lit? ",
    }[report_key(idea)]


def side_named(phrases: list[str]) -> bool:
    """Return whether every phrase names a side, a colour that has one, or nothing at all."""
    return all(phrase.lower().split(" ")[0] in ("left", "right", "red", "green", "nothing") for phrase in phrases)


def _sided(phrase: str, side: str | None) -> str:
    """Return a phrase about lamps with the acting side in front where none is named."""
    first = phrase.split(" ", maxsplit=1)[0].lower()
    return f"{side} {phrase}" if side and first in ("white", "coloured", "yellow", "orange", "no") else phrase
