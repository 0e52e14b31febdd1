"""A season of the register in, a report of it as PDF on A4 out."""

from __future__ import annotations

from calendar import month_abbr
from datetime import UTC, datetime, time
from itertools import pairwise
from typing import TYPE_CHECKING

from fpdf import FPDF
from fpdf.enums import XPos, YPos

from foible.output.typeface import CODING, written
from foible.output.words import money_words, percent

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.services.register.lives_seen import PartLife
    from foible.services.register.season import Order, Season

__all__ = ["season_pdf"]

SIZE, SMALL, HEAD = 10.0, 8.0, 13.0
"""Sizes of letters [pt]."""
PITCH = 5.0
"""From line to line [mm]."""
MARGIN = 15.0
LISTED = 20
PLOT_W, PLOT_H = 80.0, 42.0
"""Size of the plot of a life [mm]."""
STEPS = 60


class _Report(FPDF):
    """Pages with the season and the page number at the foot."""

    def __init__(self, season: Season) -> None:
        super().__init__(format="A4")
        self.core_fonts_encoding = CODING
        self.set_margin(MARGIN)
        self.set_auto_page_break(auto=True, margin=MARGIN + 5)
        self._name = f"Season {season.plan.start:%b %Y} to {season.plan.end:%b %Y}"
        self.set_title(self._name)
        self.set_lang("en-GB")
        self.set_creator("Foible")
        self.set_creation_date(datetime.combine(season.plan.start, time(), tzinfo=UTC))
        self.add_page()

    def footer(self) -> None:
        """Write the foot of a page."""
        self.set_y(-MARGIN)
        self.set_font("helvetica", size=SMALL)
        self.cell(0, PITCH, f"{self._name} · page {self.page_no()} of {{nb}}", align="R")

    def head(self, text: str) -> None:
        """Begin a section; near the foot of a page, on the next."""
        if self.y > self.h - 60:
            self.add_page()
        self.ln(PITCH / 2)
        self.set_font("helvetica", "B", HEAD)
        self.cell(0, PITCH * 1.6, written(text), new_x=XPos.LMARGIN, new_y=YPos.NEXT)

    def say(self, text: str) -> None:
        """Write a paragraph."""
        self.set_font("helvetica", size=SIZE)
        self.multi_cell(0, PITCH, written(text), align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT)

    def rows(self, heads: Sequence[str], rows: Sequence[Sequence[str]], widths: Sequence[int]) -> None:
        """Write a table; the first column is text, the others are figures."""
        if not rows:
            self.say("Nothing on record yet.")
            return
        self.set_font("helvetica", size=SIZE - 1)
        aligned = ("LEFT", *["RIGHT"] * (len(heads) - 1))
        with self.table(
            col_widths=tuple(widths), text_align=aligned, line_height=PITCH, borders_layout="HORIZONTAL_LINES"
        ) as table:
            for row in (heads, *rows):
                cells = table.row()
                for text in row:
                    cells.cell(written(text))


def season_pdf(season: Season) -> bytes:
    """Return the report. What needs a page of its own begins on one."""
    report, plan = _Report(season), season.plan
    report.set_font("helvetica", "B", 16)
    report.cell(0, 10, f"The season from {plan.start:%d %b %Y} to {plan.end:%d %b %Y}", new_x=XPos.LMARGIN, new_y=YPos.NEXT)
    report.say(f"{season.jobs} jobs, {season.minutes / 60:.1f} hours at the bench, parts for {money_words(season.parts_cost)}.")
    report.head("What failed")
    causes = [(c.name, str(c.count), percent(c.share), percent(c.together)) for c in season.causes[:LISTED]]
    report.rows(("failure", "found", "share", "together"), causes, (110, 20, 20, 25))
    report.head(f"Parts to order for {plan.months:g} months, enough with {percent(plan.level)}")
    orders = [_order(each) for each in season.orders if each.order]
    report.rows(("part", "in stock", "expected", "enough", "order", "cost"), orders, (70, 20, 22, 20, 18, 25))
    report.say(f"Together {money_words(sum(each.cost for each in season.orders))}.")
    report.head(f"To take along for {plan.fencers} fencers and {plan.days} days")
    spares = [(each.kind, f"{each.expected:.1f}", str(each.enough)) for each in season.spares]
    report.rows(("kind", "expected to fail", "take"), spares, (90, 35, 30))
    report.head("Mend or retire")
    report.rows(
        ("item", "jobs", "keeping, a year", "replacing, a year", "cheaper to replace"), _verdicts(season), (70, 15, 30, 32, 33)
    )
    report.head("Care by the calendar")
    care = [(each.task, ", ".join(month_abbr[m] for m in each.months), str(each.failures)) for each in season.care]
    report.rows(("what", "when", "failures it might have spared"), care, (95, 45, 35))
    if season.lives:
        report.head("How long things last")
        for life in season.lives:
            _draw_life(report, life)
    return bytes(report.output())


def _order(each: Order) -> tuple[str, ...]:
    count, need = str(each.part.count), str(each.enough)
    return each.part.name, count, f"{each.expected:.1f}", need, str(each.order), money_words(each.cost)


def _verdicts(season: Season) -> list[tuple[str, ...]]:
    return [
        (
            f"{each.item.code} {each.item.name}".strip(),
            str(each.jobs),
            money_words(each.choice.keep),
            money_words(each.choice.replace),
            f"{percent(each.choice.replacing_cheaper)}: {each.choice.word}",
        )
        for each in season.verdicts[:LISTED]
    ]


def _draw_life(report: _Report, life: PartLife) -> None:
    """Draw the share that lasts over the age, and the fitted life beside it."""
    if report.y + PLOT_H + 2 * PITCH > report.h - MARGIN - 5:
        report.add_page()
    curve = life.survival
    median = f"half last {curve.median:.1f} years" if curve.median is not None else "more than half still last"
    report.say(f"{life.name}: {life.failures} failures in {life.lives} lives, {median}.")
    left, foot = report.l_margin + 8, report.y + PLOT_H
    until = 1.15 * float(curve.age[-1])
    report.set_draw_color(120)
    report.line(left, foot, left + PLOT_W, foot)
    report.line(left, foot, left, foot - PLOT_H + 4)
    report.set_draw_color(40, 40, 140)
    ages = [0.0, *curve.age.tolist(), until]
    for start, end in pairwise(ages):
        share, after = curve.at(start), curve.at(end)
        x, x2 = (left + PLOT_W * age / until for age in (start, end))
        y, y2 = (foot - (PLOT_H - 4) * each for each in (share, after))
        report.line(x, y, x2, y)
        report.line(x2, y, x2, y2)
    if life.weibull:
        report.set_draw_color(150, 100, 0)
        ages = [until * i / STEPS for i in range(STEPS + 1)]
        for start, end in pairwise(ages):
            ends = [(left + PLOT_W * a / until, foot - (PLOT_H - 4) * life.weibull.at(a)) for a in (start, end)]
            report.line(*ends[0], *ends[1])
    report.set_draw_color(0)
    report.set_font("helvetica", size=SMALL)
    report.set_xy(left, foot)
    report.cell(PLOT_W, PITCH, f"{until:.1f} years", align="R", new_x=XPos.LMARGIN, new_y=YPos.NEXT)
