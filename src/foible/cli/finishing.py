"""The end of a conversation: its proof printed and answered line by line, and the words of an ending."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text

from foible.cli.show import shown_words
from foible.endings import CaseEnding, ending_named
from foible.errors import InputError
from foible.output.words import percent
from foible.services.proving import LineState, passing_report
from foible.trials import report_key, reported

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console

    from foible.kit import Weapon
    from foible.services.proving import Proving, ProvingLine
    from foible.trials import TrialTable

__all__ = ["chosen_line", "ending_of_words", "passing_tables", "show_proving"]

MARKS = {LineState.OPEN: "", LineState.PASSED: "passed", LineState.FAILED: "failed"}


def show_proving(console: Console, weapon: Weapon, proving: Proving) -> None:
    """Print what was put right, and each line of its proof with how it stands."""
    console.print(Text(f"put right: {', '.join(proving.things)}", style="dim"))
    for number, line in enumerate(proving.lines, start=1):
        often = f", {line.times} times" if line.times > 1 else ""
        console.print(Text(f"  {number}  {line.say}{often} → {shown_words(line.shows, weapon)}  {MARKS[line.state]}".rstrip()))
    if proving.passed:
        console.print(
            Text(f"{percent(proving.after)} sure. Enter “close” to end the case: {proving.ending.value}.", style="bold")
        )
    elif proving.lines:
        console.print(Text("Enter “passed” or “failed” with the number of a line.", style="dim"))


def chosen_line(proving: Proving | None, words: Sequence[str]) -> ProvingLine:
    """Return the line that a number stands for; without one, the first that is open. Raises InputError."""
    lines = proving.lines if proving else ()
    if not lines:
        raise InputError(seen="there is no proof to answer", remedy="say first what was exchanged or mended")
    if not words:
        return next((line for line in lines if line.state is LineState.OPEN), lines[0])
    if not words[0].isdecimal() or not 1 <= int(words[0]) <= len(lines):
        raise InputError(seen=f"“{words[0]}” is not a line of the proof", remedy=f"give a number from 1 to {len(lines)}")
    return lines[int(words[0]) - 1]


def passing_tables(line: ProvingLine, last: TrialTable | None) -> list[TrialTable]:
    """Return the trials of a line as they are noted when it has passed."""
    made = [reported(each.table, report_key(each), passing_report(each, line.shows), last=last) for each in line.ideas]
    return [table.model_copy(update={"times": line.times}) for table in made]


def ending_of_words(words: str, proving: Proving | None) -> tuple[CaseEnding, tuple[str, ...]]:
    """Return the ending that somebody names, and what it is about; without words, that of the proof. Raises InputError."""
    if proving and proving.failed:
        proving = None  # it was not put right after all
    if not words and proving:
        return proving.ending, proving.things
    if not words:
        remedy = f"name an ending: {', '.join(each.value for each in CaseEnding if not each.puts_right)}"
        raise InputError(seen="nothing was put right", remedy=remedy)
    ending = ending_named(words)
    if ending.puts_right and proving is None:
        raise InputError(seen="nothing was put right", remedy="say first what was exchanged or mended")
    if ending.needs_proof and not (proving and proving.passed):
        raise InputError(seen="the proof has not passed", remedy=f"let it pass, or enter “close {CaseEnding.UNPROVED.value}”")
    return ending, proving.things if proving and ending.puts_right else ()
