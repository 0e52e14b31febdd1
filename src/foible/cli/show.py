"""Answers in, tables and lines for the terminal out."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from rich.table import Table
from rich.text import Text

from foible.output.lamp_words import lamp_words
from foible.output.words import duration_words, percent, telling_words, tool_words, weight_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console

    from foible.apparatus import Window
    from foible.diagnosis import Explanation
    from foible.kit import Setup, Weapon
    from foible.records import Heads
    from foible.services.reasoning import LampRow, Reasoning
    from foible.services.scoring import CaseScore, Score
    from foible.services.verdict import AboutSuspect, Diagnosis, Doubts, Verdict, Why

__all__ = [
    "show_cases",
    "show_diagnosis",
    "show_kit",
    "show_lamps",
    "show_next",
    "show_referee",
    "show_repair",
    "show_score",
    "show_suspects",
    "show_times",
    "show_weight",
    "show_why",
    "shown_words",
]

LAMP_STYLES = {
    "white": "bold reverse",
    "red": "bold white on red",
    "green": "bold black on green",
    "yellow": "bold black on yellow",
    "orange": "bold black on yellow",
}
CAUTION = "Gently with barrels and grips, nothing with a broken blade. Foible advises; the officials decide."
TOLD = 0.001
"""The smallest share of pairs left out that is mentioned."""
TWO = 0.05
"""The smallest share of two failures at once that is mentioned."""
ITEMS = 3
"""Items that are named."""
BAR = 10
"""Characters of a full probability bar."""


def show_cases(console: Console, heads: Heads) -> None:
    """Print a list of kept cases."""
    table = Table(box=None, pad_edge=False)
    for column in ("name", "last change", "weapon", "trials", "", "title"):
        table.add_column(column, justify="right" if column == "trials" else "left")
    for head in heads.rows:
        state = (head.ending.value if head.ending else "closed") if head.closed else ""
        changed = f"{head.changed.astimezone():%Y-%m-%d %H:%M}"
        where = " · ".join(filter(None, (head.title, head.piste and f"piste {head.piste}", head.fencer)))
        table.add_row(head.id, changed, head.weapon, str(head.trials), state, Text(_printable(where)))
    if heads.rows:
        console.print(table)
    if left := heads.total - len(heads.rows):
        console.print(f"and {left:,} more")
    elif not heads.rows:
        console.print("There are no such cases.")


def _printable(text: str) -> str:
    return "".join(char for char in text if char.isprintable())


def show_diagnosis(console: Console, reasoning: Reasoning, diagnosis: Diagnosis, verdict: Verdict) -> None:
    """Print suspects, items, doubts about them, the next trial and why."""
    case = diagnosis.case
    count = len(diagnosis.trials)
    console.print(Text(_printable(case.title or case.complaint or "A case"), style="bold"))
    console.print(
        Text(
            f"{case.setup.weapon}, {count} {'trial' if count == 1 else 'trials'}, {case.profile.title}",
            style="dim",
        )
    )
    console.print()
    show_suspects(console, verdict)
    if diagnosis.alone:
        console.print(_line(("only:   ", "dim"), f"the {diagnosis.alone}, as every trial was made on it by itself"))
    _show_doubts(console, verdict.doubts)
    for number, judgement in diagnosis.judgements:
        console.print(_line(("rule:   ", "dim"), f"trial {number + 1}: {judgement.words}; {judgement.limit.text}"))
    show_next(console, diagnosis, verdict)
    show_why(console, reasoning, diagnosis, diagnosis.why)
    show_referee(console, verdict)
    console.print(_line((CAUTION, "dim")))


def show_suspects(console: Console, verdict: Verdict) -> None:
    """Print the first suspects, the rest of the probability, and the items they belong to."""
    table = Table(box=None, pad_edge=False, title=None, header_style="dim")
    table.add_column("", no_wrap=True)
    table.add_column("suspect", overflow="fold")
    table.add_column("what is wrong with it", overflow="fold")
    for line in verdict.suspects:
        table.add_row(_bar(line.probability), line.part, line.wrong)
    console.print(table)
    words = [f"{name} {percent(chance)}" for name, chance in verdict.rest.lines]
    if verdict.rest.left_out >= TOLD:
        words.append(f"pairs left out: {verdict.rest.left_out:.1%} at most")
    two = f". Of all this, {percent(verdict.rest.two)} is two things wrong at once." if verdict.rest.two >= TWO else ""
    console.print(Text(" · ".join(words) + two, style="dim"))
    if verdict.items:
        items = ", ".join(f"{line.words} {percent(line.probability)}" for line in verdict.items[:ITEMS])
        console.print(_line(("item:   ", "dim"), items))


def _bar(probability: float) -> Text:
    full = round(probability * BAR)
    return Text(f"{percent(probability):>6} " + "━" * full + "·" * (BAR - full))


def _show_doubts(console: Console, doubts: Doubts) -> None:
    """Print the reasons not to take the suspects at face value."""
    if doubts.pairs:
        pairs = "; ".join(f"{first} and {second} {chance:.0%}" for first, second, chance in doubts.pairs)
        console.print(_line(("two:    ", "dim"), f"no single failure explains these trials well; two together do: {pairs}"))
    for number, chance in doubts.misread:
        console.print(
            _line(("doubt:  ", "dim"), f"what was seen in trial {number + 1} is probably misread ({chance:.0%}): look again")
        )
    for group in doubts.alike:
        parts = ", ".join(group.parts)
        same = "the repair is the same" if len(group.repairs) == 1 else f"repairs: {', '.join(group.repairs)}"
        needs = " and ".join(map(tool_words, group.splits.needs)) if group.splits else ""
        splits = f"; this would: {group.splits.say} (needs {needs})" if group.splits else ""
        console.print(_line(("alike:  ", "dim"), f"nothing at hand tells these apart: {parts}; {same}{splits}"))


def show_next(console: Console, diagnosis: Diagnosis, verdict: Verdict) -> None:
    """Print what to do next: act, or make a trial, and what it is expected to tell."""
    act, label = verdict.act, "next:   "
    if act and act.seen:
        console.print(_line(("first:  ", "dim"), (act.words, "bold"), ", as it was seen and takes seconds"))
        label = "then:   "
    elif act and act.now:
        why = f": {act.why}" if act.why else ""
        console.print(_line(("now:    ", "dim"), (act.words, "bold"), f" ({percent(act.chance)} sure){why}"))
        label = "or try: "
    elif act:
        console.print(_line(("or now: ", "dim"), act.words, f" ({percent(act.chance)} sure)"))
    if not diagnosis.advice:
        console.print(_line(("next:   ", "dim"), "no trial you can make with these tools would tell you more"))
        return
    first = diagnosis.advice[0]
    if first.proves:
        console.print(_line(("prove:  ", "dim"), (first.idea.say, "bold"), (f"  ({first.idea.seconds:.0f} s)", "dim")))
        return
    again = "once more: " if diagnosis.made_before(first.idea.trial) else ""
    cost = f"  ({first.idea.seconds:.0f} s, tells {telling_words(first.bits)}; about {duration_words(first.cost_s)} until done)"
    console.print(_line((label, "dim"), again, (first.idea.say, "bold"), (cost, "dim")))


def show_referee(console: Console, verdict: Verdict) -> None:
    """Print what the rulebook tells the referee of the fault."""
    asked = ""
    for ruling in verdict.referee:
        label = f"{ruling.asks}?" if ruling.asks != asked else ""
        asked = ruling.asks
        derived = ", not said outright" if ruling.derived else ""
        console.print(_line((f"{label:<8}", "dim"), ruling.say, (f"  {ruling.clause}{derived}", "dim")))
    if verdict.referee:
        console.print(_line((f"        {verdict.referee[0].edition}; the referee decides", "dim")))


def show_weight(console: Console, bits: float, doubt: float | None) -> None:
    """Print how strongly a trial spoke for a suspect, and the probability that it was misread where that is likely."""
    misread = "" if doubt is None else f"; it was probably misread ({doubt:.0%})"
    console.print(_line(("        ", "dim"), f"this trial {weight_words(bits)}{misread}"))


def shown_words(shows: str, weapon: Weapon) -> str:
    """Return what a line of a proof must show, lamps by their names."""
    return ", ".join(lamp_words(shows.split(", "), weapon))


def show_repair(console: Console, weapon: Weapon, about: AboutSuspect, sure: float) -> None:
    """Print how a suspect is mended and how the repair is proved."""
    suspect, repair, proof = about.suspect, about.repair, about.proof
    console.print(_line((f"{suspect.part}: {suspect.failure.mode}", "bold"), f"  ({suspect.probability:.0%})"))
    if repair is None:
        console.print("No repair is listed for it: exchange the item.")
    else:
        price = f", parts about €{repair.price:g}" if repair.price else ""
        console.print(_line(("repair: ", "dim"), (repair.name, "bold"), f"  (about {repair.minutes:g} min{price})"))
        for number, step in enumerate(repair.steps, start=1):
            console.print(_line((f"  {number}  ", "dim"), step))
        if repair.tools or repair.supplies:
            console.print(_line(("with:   ", "dim"), ", ".join((*repair.tools, *repair.supplies))))
        for caution in repair.cautions:
            console.print(_line(("care:   ", "dim"), (caution, "bold")))
        if repair.clause:
            console.print(_line(("rule:   ", "dim"), repair.clause))
    console.print(_line(("proof:  ", "dim"), f"{percent(proof.before)} sure already; each check must give:"))
    for line in proof.lines:
        often = f", {line.times} times" if line.times > 1 else ""
        shows = shown_words(line.shows, weapon)
        console.print(_line("  · ", (line.say, "bold"), f"{often} → {shows}", (f"  ({line.seconds:.0f} s)", "dim")))
    reached = f"{proof.after:.1%} sure after {duration_words(proof.seconds)}"
    short = "" if proof.after >= sure else f"; no trials at hand make it {sure:.1%}"
    console.print(_line(("        ", "dim"), reached + short))
    console.print(_line((CAUTION, "dim")))


def show_why(console: Console, reasoning: Reasoning, diagnosis: Diagnosis, why: Why | None) -> None:
    """Print the reason for a suspect."""
    if why is None:
        console.print(_line(("why:    ", "dim"), "no lamps have been seen yet"))
        return
    before = diagnosis.trials[why.trial - 1] if why.trial else None
    done = reasoning.said(diagnosis.case.setup, diagnosis.trials[why.trial], before)
    said = f"if it is the {why.suspect.part} ({why.suspect.failure.mode}), then in trial {why.trial + 1} ({done}): "
    console.print(_line(("why:    ", "dim"), said + why.explanation.text))


def _line(*pieces: str | tuple[str, str]) -> Text:
    """Return text whose pieces each have a style."""
    return Text.assemble(*pieces)


def show_lamps(console: Console, name: str, rows: Sequence[LampRow]) -> None:
    """Print what lights in every trial, and how that differs from nothing."""
    table = Table(box=None, pad_edge=False, title=None, header_style="dim")
    for heading in ("left", "right", name):
        table.add_column(heading, overflow="fold")
    for row in rows:
        table.add_row(_lamps(row.left), _lamps(row.right), row.idea.say)
    console.print(table)


def _lamps(explanation: Explanation) -> Text:
    text = Text()
    for lamp, chance in explanation.lamps.items():
        if chance >= 0.05:  # noqa: PLR2004 — not worth a word
            word = explanation.lamp_name(lamp)
            text.append(f" {word}{'' if chance > 0.95 else f' {chance:.0%}'} ", style=LAMP_STYLES[word])  # noqa: PLR2004
            text.append(" ")
    return text or Text("—", style="dim")


def show_score(console: Console, score: Score) -> None:
    """Print the rank of the true part and item of every case, the misses, and the totals."""
    table = Table(box=None, pad_edge=False, title=None, header_style="dim")
    for heading in ("", "part", "item", "case"):
        table.add_column(heading, overflow="fold", justify="left")
    for case in score.cases:
        good = case.part_found and case.item_found
        mark = Text("–", style="dim") if case.unexplained else Text("✓" if good else "✗", style="bold" if not good else "")
        table.add_row(mark, str(case.part_rank or "–"), str(case.item_rank or "–"), case.name)
    console.print(table)
    console.print()
    for case in score.cases:
        if case.unexplained:
            console.print(_line((f"– {case.name}: ", "bold"), case.unexplained))
        elif not (case.part_found and case.item_found):
            console.print(_missed(case))
    total = len(score.expressible)
    console.print()
    console.print(
        f"{len(score.cases)} cases, {total} that the model can express: true part among the first three "
        f"{score.part_share:.0%} ({sum(c.part_found for c in score.expressible)}), "
        f"true item first {score.item_share:.0%} ({sum(c.item_found for c in score.expressible)})"
    )


def _missed(case: CaseScore) -> Text:
    """Return what a missed case should have named and what it named."""
    expected = case.case.expected.parts if case.case.expected else ()
    cause = " or ".join(expected[:3]) + (" …" if len(expected) > 3 else "")  # noqa: PLR2004 — a list is cut, not measured
    named = f"; first suspect {case.top_part}, first item {case.top_item}"
    return _line((f"✗ {case.name}: ", "bold"), f"cause {cause}", (named, "dim"))


def show_times(console: Console, windows: Sequence[Window], both: float | None) -> None:
    """Print windows of time, and whether two hits both show."""
    for window in windows:
        span = f"{window.what}: not before {window.begins:g} ms, certainly from {window.ends:g} ms"
        console.print(_line(span, (f"  {window.clause}", "dim")))
    if both is not None:
        words = {1.0: "both lamps light", 0.0: "only the first lamp lights"}
        console.print(Text(words.get(both, f"a {both:.0%} chance that both lamps light"), style="bold"))


def show_kit(console: Console, setup: Setup) -> None:
    """Print every name that a case file can use."""
    for item in setup.items.values():
        if item.side == "right":
            continue
        console.print(_line((item.id, "bold"), (f"  exchanged in {item.exchange_s:.0f} s" if item.exchange_s else "", "dim")))
        parts = [part for part in setup.parts.values() if part.item == item.id]
        for part in parts:
            modes = [failure.mode for failure in setup.failures.values() if failure.part == part.id]
            console.print(_line(f"  {part.id}", (f"  {'; '.join(modes)}", "dim")))
        _names(console, "places", [place for place in setup.places if place.startswith(item.id)])
        _names(console, "moves", [move for move in setup.movements if setup.movements[move] == item.id])
    _names(console, "connections", [name for name in setup.connections if not name.startswith("right")])
    _names(console, "signs", [*sorted(setup.signs), "fine"])
    console.print(Text("The right side has the same names with “right”.", style="dim"))


def _names(console: Console, label: str, names: Sequence[str]) -> None:
    if names:
        console.print(_line((f"  {label}: ", "dim"), " · ".join(names)))


def ohms_words(ohms: float) -> str:
    """Return a severity in words."""
    return "open" if math.isinf(ohms) else f"{ohms:g} Ω"
