"""A worksheet in, a PDF on A4 out: one exercise to a page with room to write, and behind them the answers with the reasons.

Lamps are drawn so that any printer shows them: a full disc is lit, a ring is dark, and the word stands beside it.
"""

from __future__ import annotations

from datetime import UTC, datetime
from itertools import groupby
from typing import TYPE_CHECKING

from fpdf import FPDF
from fpdf.enums import MethodReturnValue, XPos, YPos

from foible.output.labels_pdf import draw_code
from foible.output.typeface import CODING, written
from foible.output.words import percent

if TYPE_CHECKING:
    from collections.abc import Callable

    from foible.services.practice.worksheets import Clue, Sheet, SheetAnswer, SheetExercise

__all__ = ["ANSWERS", "QUESTIONS", "worksheet_pdf"]

ANSWERS = "Answers"
"""The head of the answer sheet, before which nothing says what is wrong."""
QUESTIONS = (
    "Which item is it, or which cannot be told apart yet? Why?",
    "What would you try next, and what would it tell you?",
    "What do you put right, and how do you prove that it is right?",
)
"""What every exercise asks."""
MARGIN, PITCH = 15.0, 5.0
"""From the edge, and from line to line [mm]."""
SIZE, SMALL, HEAD = 10.5, 8.5, 15.0
"""Sizes of letters [pt]."""
LAMPS, DISC = 62.0, 4.2
"""Width of the column with lamps, and of a lamp [mm]."""
LINES, RULE = 2, 9.0
"""Least lines to write on below a question, and from one to the next [mm]."""
CODE = 24.0
"""Side of a code [mm]."""
NO_DATE = datetime.fromtimestamp(0, UTC)
"""A worksheet has no date of its own: the same seed is the same file, byte for byte."""


class _Paper(FPDF):
    """Pages with the worksheet's name and the page number at the foot."""

    def __init__(self, sheet: Sheet) -> None:
        super().__init__(format="A4")
        self.core_fonts_encoding = CODING
        self.set_margin(MARGIN)
        self.set_auto_page_break(auto=True, margin=MARGIN + 5)
        drawn = f", seed {sheet.seed}" if sheet.seed else ""
        self._name = written(f"{sheet.weapon}: {sheet.level}{drawn}")
        self.set_title(f"Worksheet, {self._name}")
        self.set_lang("en-GB")
        self.set_creator("Foible")
        self.set_creation_date(NO_DATE)

    def footer(self) -> None:
        """Write the foot of a page."""
        self.set_y(-MARGIN)
        self.set_font("helvetica", size=SMALL)
        self.cell(0, PITCH, f"{self._name} · page {self.page_no()} of {{nb}}", align="R")

    def head(self, text: str, size: float = HEAD) -> None:
        """Write a head."""
        self.set_font("helvetica", "B", size)
        self.multi_cell(0, PITCH * size / SIZE * 1.1, written(text), align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT)

    def say(self, text: str, *, size: float = SIZE, style: str = "", width: float = 0) -> None:
        """Write a paragraph."""
        self.set_font("helvetica", style, size)
        self.multi_cell(width, PITCH * size / SIZE, written(text), align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT)

    def height_of(self, text: str, width: float) -> float:
        """Return the height of a paragraph [mm]."""
        self.set_font("helvetica", size=SIZE)
        found = self.multi_cell(width, PITCH, written(text), align="L", dry_run=True, output=MethodReturnValue.HEIGHT)
        return float(str(found))

    def room(self, height: float) -> None:
        """Go on on the next page where this much does not fit [mm]."""
        if self.y + height > self.h - MARGIN - 5:
            self.add_page()


def worksheet_pdf(sheet: Sheet, address: Callable[[str], str] | None = None) -> bytes:
    """Return a worksheet with its answer sheet. `address` makes an address whole, for a code to scan beside each answer."""
    paper = _Paper(sheet)
    for exercise in sheet.exercises:
        paper.add_page()
        _draw_exercise(paper, sheet, exercise)
    paper.add_page()
    paper.head(f"{ANSWERS}: {sheet.weapon}, {sheet.level}")
    for exercise, answer in zip(sheet.exercises, sheet.answers, strict=True):
        _draw_answer(paper, exercise, answer, address)
    return bytes(paper.output())


def _draw_exercise(paper: _Paper, sheet: Sheet, exercise: SheetExercise) -> None:
    paper.say(f"{sheet.weapon}: {sheet.level}. Name: ______________________________", size=SMALL)
    paper.ln(2)
    paper.head(f"{exercise.number}. {exercise.complaint}")
    paper.say("What was tried, and what lit (a full disc is lit, a ring is dark):", size=SMALL)
    paper.ln(1)
    for number, clue in enumerate(exercise.clues, start=1):
        _draw_clue(paper, number, clue)
    paper.ln(3)
    paper.room(len(QUESTIONS) * (PITCH + LINES * RULE + 3))
    left = paper.h - MARGIN - 8 - paper.y
    lines = max(LINES, int((left / len(QUESTIONS) - PITCH - 3) / RULE))
    for question in QUESTIONS:
        paper.say(question, style="B")
        for _ in range(lines):
            paper.ln(RULE)
            paper.set_draw_color(170)
            paper.line(MARGIN, paper.y, paper.w - MARGIN, paper.y)
        paper.ln(3)


def _draw_clue(paper: _Paper, number: int, clue: Clue) -> None:
    """Draw one trial: its number, what was done, and the lamps of both sides or what a tool told."""
    width = paper.w - 2 * MARGIN - LAMPS - 8
    say = clue.say[:1].upper() + clue.say[1:]
    height = max(paper.height_of(say, width), 2 * (DISC + 1.6)) + 2
    paper.room(height)
    top = paper.y
    paper.set_draw_color(200)
    paper.line(MARGIN, top, paper.w - MARGIN, top)
    paper.set_xy(MARGIN, top + 1)
    paper.set_font("helvetica", "B", SIZE)
    paper.cell(8, PITCH, str(number))
    paper.set_font("helvetica", size=SIZE)
    paper.multi_cell(width, PITCH, written(say), align="L")
    left = paper.w - MARGIN - LAMPS
    if clue.lamps:
        for row, (side, lamps) in enumerate(groupby(clue.lamps, key=lambda lamp: lamp[0])):
            _draw_lamps(paper, side, [(name, state) for _, name, state in lamps], left, top + 1 + row * (DISC + 1.6))
    else:
        paper.set_xy(left, top + 1)
        paper.set_font("helvetica", "B", SIZE)
        paper.multi_cell(LAMPS, PITCH, written(", ".join(clue.told) or "done"), align="L")
    paper.set_xy(MARGIN, top + height)


def _draw_lamps(paper: _Paper, side: str, lamps: list[tuple[str, str]], left: float, top: float) -> None:
    paper.set_font("helvetica", size=SMALL - 1)
    paper.set_xy(left, top)
    paper.cell(9, DISC, side)
    step = (LAMPS - 9) / max(len(lamps), 1)
    for place, (name, state) in enumerate(lamps):
        x = left + 9 + place * step
        paper.set_draw_color(0)
        paper.set_fill_color(0 if state != "dark" else 255)
        paper.ellipse(x, top, DISC, DISC, style="DF")
        paper.set_xy(x + DISC, top)
        paper.set_font("helvetica", "B" if state != "dark" else "", SMALL - 2)
        paper.cell(step - DISC, DISC / 2, name)
        paper.set_xy(x + DISC, top + DISC / 2)
        paper.cell(step - DISC, DISC / 2, state)
    paper.set_fill_color(255)


def _draw_answer(paper: _Paper, exercise: SheetExercise, answer: SheetAnswer, address: Callable[[str], str] | None) -> None:
    paper.room(CODE + 4 * PITCH)
    paper.ln(3)
    top = paper.y
    if address is not None:
        draw_code(paper, address(answer.address), left=paper.w - MARGIN - CODE, top=top, side=CODE)
    width = paper.w - 2 * MARGIN - CODE - 3
    page = paper.page_no()
    for text, style in ((f"{answer.number}. {exercise.complaint}", "B"), *((line, "") for line in _lines(answer))):
        paper.say(text, style=style, width=width)
    if paper.page_no() == page:
        paper.set_y(max(paper.y, top + CODE))
    for number, reason in enumerate(answer.reasons, start=1):
        if reason:
            paper.say(f"Trial {number}: {reason}", size=SMALL)
    paper.ln(1)


def _lines(answer: SheetAnswer) -> list[str]:
    wrong = "; and ".join(answer.wrong) if answer.wrong else "nothing: the kit is sound"
    shares = ", ".join(f"{name} {percent(share)}" for name, share in answer.narrowed.items)
    come = f"one is left: {shares}" if answer.narrowed.single else f"these cannot be told apart: {shares}"
    lines = [f"What is wrong: {wrong}.", f"After these trials {come}."]
    if len(answer.wrong) > 1:
        lines.append("Two things are wrong: the other shows once the first is put right.")
    if not answer.narrowed.sound:
        lines.append("These trials mislead: by them alone nobody would find what is wrong.")
    lines.append(f"Next: {answer.next}.")
    if answer.repair:
        lines.append(f"To put it right: {answer.repair}.")
    lines.append(f"Proof: {answer.proof}, and see what sound kit shows.")
    return lines
