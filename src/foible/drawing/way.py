"""The branches of a circuit in; out, the path of the current, drawn, with a cross where it is cut."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.drawing.path import Path, Rectangle, number
from foible.drawing.svg import element
from foible.trials import arranged

if TYPE_CHECKING:
    from foible.drawing.layout import Layout
    from foible.drawing.marks import Marks
    from foible.drawing.path import Place
    from foible.drawing.svg import Sheet
    from foible.kit import Setup

__all__ = ["Step", "bowed", "chevron", "draw_course", "draw_way", "steps"]

JOINT = " = "
"""What separates the two nodes in the name of a joint that a failure makes."""


DISC, CROSS = 9.0, 5.6
"""Radius of the disc at a cut, and the reach of the cross on it."""
CONTACT = 3.2
"""Radius of the two ends of a contact that the trial itself holds open."""


@dataclass(frozen=True, slots=True)
class Step:
    """One branch of the way."""

    branch: str
    path: Path
    """In the direction of the current."""


def steps(setup: Setup, layout: Layout, marks: Marks) -> list[Step]:
    """Return the branches of the way, and those that are cut, that can be drawn, each in the direction of the current."""
    names = dict.fromkeys((*marks.way, *marks.cuts))
    known = _ends(setup, marks)
    ends = [known.get(name) or _joint(name) for name in names]
    found = []
    for position, (name, pair) in enumerate(zip(names, ends, strict=True)):
        if pair is None or not (name in layout.paths or all(node in layout.nodes for node in pair)):
            continue
        path = layout.paths.get(name) or bowed(layout.nodes[pair[0]], layout.nodes[pair[1]])
        after = ends[position + 1] if position + 1 < len(ends) else None
        before = ends[position - 1] if position else None
        found.append(Step(name, path if _forwards(pair, before, after) else path.turned()))
    return found


def draw_way(found: list[Step], marks: Marks) -> str:
    """Return the way as thick strokes, to lie beneath the lines."""
    carried = set(marks.way)
    return "".join(
        element("path", d=step.path.data, class_="fd-way", data_way=step.branch) for step in found if step.branch in carried
    )


def draw_course(setup: Setup, found: list[Step], marks: Marks, sheet: Sheet, *, pitch: Place) -> str:
    """Return arrow heads along the way and crosses where it is cut, with a `pitch` of (between heads, width of a gap).

    A contact that is open because the point is pressed is no fault; it is drawn as an open contact and says so.
    """
    spacing, gap = pitch
    pressed = marks.trial.arrangement.press if marks.trial else None
    meant = set(setup.points[pressed].opens) if pressed else set()
    cut = [step for step in found if step.branch in marks.cuts]
    drawn = [_opened(step, sheet, gap) if step.branch in meant else _cut(step, sheet, gap) for step in cut]
    reached = next((place for place, step in enumerate(found) if step.branch in marks.cuts), len(found))
    return _heads(found[:reached], set(marks.way), spacing) + "".join(drawn)  # nothing flows past a cut


def bowed(start: Place, end: Place, bow: float = 0.16) -> Path:
    """Return a bent path between two places."""
    (ax, ay), (bx, by) = start, end
    control = (ax + bx) / 2 + bow * (by - ay), (ay + by) / 2 - bow * abs(bx - ax)
    places = []
    for count in range(9):
        t = count / 8
        places.append(
            (
                (1 - t) ** 2 * ax + 2 * t * (1 - t) * control[0] + t * t * bx,
                (1 - t) ** 2 * ay + 2 * t * (1 - t) * control[1] + t * t * by,
            )
        )
    return Path(tuple(places))


def chevron(at: Place, heading: float, size: float) -> str:
    """Return path data of an arrow head that points to `heading` [rad] with its tip at `at`."""
    legs = [
        (at[0] - size * math.cos(heading + turn), at[1] - size * math.sin(heading + turn)) for turn in (math.pi / 5, -math.pi / 5)
    ]
    (ax, ay), (bx, by) = legs
    return f"M{number(ax)} {number(ay)}L{number(at[0])} {number(at[1])} {number(bx)} {number(by)}"


def _heads(found: list[Step], carried: set[str], spacing: float) -> str:
    """Return arrow heads along the way, evenly whatever the length of its steps."""
    data, since = [], spacing / 2
    for step in found:
        length = step.path.length
        if step.branch not in carried:
            continue
        if since + length >= spacing:
            share = min(max((spacing - since) / length, 0.35), 0.9) if length else 0.5
            data.append(chevron(step.path.at(share), step.path.heading(share), 5))
            since = length * (1 - share)
        else:
            since += length
    return element("path", d="".join(data), class_="fd-head") if data else ""


def _cut(step: Step, sheet: Sheet, gap: float) -> str:
    x, y = step.path.at(0.5)
    sheet.taken.append(Rectangle.around([(x, y)]).grown(DISC))
    cross = f"M{number(x - CROSS)} {number(y - CROSS)}L{number(x + CROSS)} {number(y + CROSS)}"
    cross += f"M{number(x - CROSS)} {number(y + CROSS)}L{number(x + CROSS)} {number(y - CROSS)}"
    return element(
        "g",
        element("path", d=_middle(step.path, gap).data, class_="fd-gap"),
        element("circle", cx=x, cy=y, r=DISC, class_="fd-cut-disc"),
        element("path", d=cross, class_="fd-cross"),
        sheet.write_near("cut here", (x, y - DISC - 9), class_="fd-word fd-cut-word", tied=(x, y)),
        data_cut=step.branch,
    )


def _opened(step: Step, sheet: Sheet, gap: float) -> str:
    x, y = step.path.at(0.5)
    ends = _middle(step.path, gap)
    return element(
        "g",
        element("path", d=ends.data, class_="fd-gap"),
        *(element("circle", cx=end[0], cy=end[1], r=CONTACT, class_="fd-open-end") for end in (ends.start, ends.end)),
        sheet.write_near("open while pressed", (x, y - 12), class_="fd-word fd-do-word", tied=(x, y)),
        data_open=step.branch,
    )


def _middle(path: Path, gap: float) -> Path:
    share = min(gap / path.length / 2, 0.5) if path.length else 0.5
    return path.piece(0.5 - share, 0.5 + share)


def _ends(setup: Setup, marks: Marks) -> dict[str, tuple[str, str]]:
    """Return the nodes of each branch that the set-up has or the trial adds."""
    contacts = arranged(setup, marks.trial.arrangement).contacts if marks.trial else ()
    return {branch.name: (branch.a, branch.b) for branch in (*setup.network.branches, *contacts)}


def _joint(name: str) -> tuple[str, str] | None:
    first, found, second = name.partition(JOINT)
    return (first, second) if found else None


def _forwards(pair: tuple[str, str], before: tuple[str, str] | None, after: tuple[str, str] | None) -> bool:
    if after and set(pair) & set(after):
        return pair[1] in after
    if before and set(pair) & set(before):
        return pair[0] in before
    return True
