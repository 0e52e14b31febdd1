"""Makes the parts of the documentation that come from Foible's own data and sources: pictures and tables.

`python -m docs.build` writes them in place; `build(folder)` writes them elsewhere, so that a test can check that they are up
to date.
"""

from __future__ import annotations

import io
import sys
from html import escape
from itertools import groupby
from pathlib import Path

from rich.console import Console
from rich.terminal_theme import TerminalTheme

from docs.kit_pictures import kit_pictures, pictures_listed
from docs.layers_picture import layers_picture
from foible.apparatus import TERMINALS
from foible.circuit.routes import route
from foible.cli.show import show_diagnosis
from foible.kit import Setup, load_setup
from foible.services.reasoning import Reasoning

DOCS = Path(__file__).parent
CASE = DOCS.parent / "examples" / "published" / "foil-valid-white-opponent-cord-a-line.toml"

ROW, TOP, BOX, WIDTH = 24, 64, 322, 1060
LEFT = (32, 382, 732)
INK, PALE, BAND = "#22303c", "#ffffff", ("#eef2f5", "#dfe7ec")
FONT = 'font-family="system-ui, sans-serif" font-size="13"'
DASH = {"B": "", "C": "7 4", "A": "2 4"}
WEAPONS = {"foil": "foil", "épée": "epee", "sabre": "sabre"}
"""File name by weapon."""
TITLES = {
    "foil": {
        "B": "line B, left: out to the point",
        "C": "line C, left: back from the point",
        "A": "line A, right: from the lamé",
    },
    "épée": {
        "A": "line A, left: out to the point",
        "B": "line B, left: back from the point",
        "C": "line C, right: earth, from the guard",
    },
    "sabre": {
        "B": "line B, left: out to the socket",
        "C": "line C, left: back from the socket",
        "A": "line A, right: from the lamé",
    },
}
"""What stands above each column, from left to right, by line."""
LEFT_A, LEFT_B, LEFT_C, RIGHT_A, _, RIGHT_C, _ = TERMINALS

THEME = TerminalTheme((255, 255, 255), (34, 48, 60), [(34, 48, 60)] * 8, [(34, 48, 60)] * 8)
FRAME = """<svg class="rich-terminal" viewBox="0 0 {width} {height}" xmlns="http://www.w3.org/2000/svg">
<style>
.{unique_id}-matrix {{ font-family: ui-monospace, monospace; font-size: {char_height}px; line-height: {line_height}px; }}
{styles}
</style>
<defs>{lines}</defs>
<rect width="100%" height="100%" fill="#ffffff"/>
<g transform="translate(9, 9)" clip-path="url(#{unique_id}-clip-terminal)">
{backgrounds}
<g class="{unique_id}-matrix">
{matrix}
</g>
</g>
</svg>
"""


def way(setup: Setup, source: str, sink: str) -> list[str]:
    """Return the parts on the way from `source` to `sink` in sound kit."""
    found = route(setup.network, [source], [sink])
    if found is None:
        msg = f"no way from {source} to {sink}"
        raise ValueError(msg)
    return [branch for branch in found.branches if branch in setup.parts]


def columns(setup: Setup) -> dict[str, list[str]]:
    """Return the parts of the lines that `TITLES` names, each from the apparatus outwards."""
    point = setup.points["left"]
    match setup.weapon:
        case "foil":
            loop = way(setup, LEFT_B, LEFT_C)
            turn = loop.index(point.opens[0])
            return {"B": loop[:turn], "C": loop[turn + 1 :][::-1], "A": way(setup, RIGHT_A, setup.places["right lamé front"])}
        case "épée":
            loop = way(setup, LEFT_A, LEFT_B)
            out, back = (loop.index(switch) for switch in point.closes)
            return {"A": loop[:out], "B": loop[back + 1 :][::-1], "C": way(setup, RIGHT_C, setup.places["right weapon guard"])}
        case _:
            shared = metal(setup)
            return {
                "B": [part for part in way(setup, LEFT_B, point.face) if part not in shared],
                "C": [part for part in way(setup, LEFT_C, point.face) if part not in shared],
                "A": way(setup, RIGHT_A, setup.places["right lamé front"]),
            }


def metal(setup: Setup) -> list[str]:
    """Return the parts that lines B and C of a sabre share, from the socket to the edge."""
    face = setup.points["left"].face
    back = way(setup, LEFT_C, face)
    return [part for part in way(setup, LEFT_B, face) if part in back]


def circuit_picture(setup: Setup) -> str:
    """Draw two lines of the left and the line of the right that a hit reaches, from the apparatus at the top to the weapon."""
    lines = columns(setup)
    bottom = TOP + ROW * max(len(parts) for parts in lines.values()) + 30
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {bottom + 110}" {FONT} fill="{INK}">',
        f"<title>The {setup.weapon} circuit, drawn from Foible's kit files</title>",
        f'<rect width="{WIDTH}" height="{bottom + 110}" fill="{PALE}"/>',
    ]
    for x, (line, parts) in zip(LEFT, lines.items(), strict=True):
        out += _column(setup, x, line, parts, bottom)
    foot = {"foil": _foil_foot, "épée": _epee_foot, "sabre": _sabre_foot}[setup.weapon]
    return "\n".join([*out, *foot(setup, bottom), "</svg>"]) + "\n"


def _foil_foot(_: Setup, bottom: int) -> list[str]:
    """Draw the point as a switch that is closed: a bar on two contacts."""
    b, c, a = LEFT
    middle, low = (b + c) // 2, bottom + 40
    return [
        _wire(f"M{b} {bottom} V{low} H{middle - 12}", "B"),
        _wire(f"M{c} {bottom} V{low} H{middle + 14}", "C"),
        f'<circle cx="{middle - 12}" cy="{low}" r="4"/><circle cx="{middle + 14}" cy="{low}" r="4"/>',
        f'<path d="M{middle - 12} {low - 4} H{middle + 14}" stroke="{INK}" stroke-width="3"/>',
        _text(middle, bottom + 24, "point seat: closed at rest, opened by a hit"),
        _wire(f"M{middle - 12} {low + 4} V{low + 44} H{a} V{bottom}", "A"),
        _text((c + a) // 2 + 20, low + 38, "a hit on the lamé: point face on cloth"),
    ]


def _epee_foot(_: Setup, bottom: int) -> list[str]:
    """Draw the point as a switch that is open: a bar clear of two contacts."""
    a, b, c = LEFT
    middle, low = (a + b) // 2, bottom + 40
    tip = low + 16
    return [
        _wire(f"M{a} {bottom} V{low} H{middle - 26}", "A"),
        _wire(f"M{b} {bottom} V{low} H{middle + 26}", "B"),
        f'<circle cx="{middle - 26}" cy="{low}" r="4"/><circle cx="{middle + 26}" cy="{low}" r="4"/>',
        f'<path d="M{middle - 34} {tip} H{middle + 34}" stroke="{INK}" stroke-width="3"/>',
        _text(middle, bottom + 24, "contact spring: open at rest, closed by a hit"),
        _wire(f"M{middle} {tip} V{low + 44} H{c} V{bottom}", "C"),
        _text((b + c) // 2 + 20, low + 38, "no hit on a guard: point face on earth"),
    ]


def _sabre_foot(setup: Setup, bottom: int) -> list[str]:
    """Draw the joint of both lines in the socket, and the metal from there to the edge."""
    b, c, a = LEFT
    middle, low = (b + c) // 2, bottom + 40
    names = ", ".join(setup.parts[part].name for part in metal(setup))
    return [
        _wire(f"M{b} {bottom} V{low} H{middle}", "B"),
        _wire(f"M{c} {bottom} V{low} H{middle}", "C"),
        f'<circle cx="{middle}" cy="{low}" r="6"/>',
        _text(middle, bottom + 24, "socket: joined for good"),
        _wire(f"M{middle} {low + 4} V{low + 44} H{a} V{bottom}", "A"),
        f'<text x="{middle + 12}" y="{low + 38}">{escape(names)}</text>',
        _text((c + a) // 2 + 100, low + 38, "a hit: edge on cloth"),
    ]


def _wire(path: str, line: str) -> str:
    dash = f' stroke-dasharray="{DASH[line]}"' if DASH[line] else ""
    return f'<path d="{path}" fill="none" stroke="{INK}" stroke-width="2"{dash}/>'


def _text(x: int, y: int, words: str) -> str:
    return f'<text x="{x}" y="{y}" text-anchor="middle">{escape(words)}</text>'


def _column(setup: Setup, x: int, line: str, parts: list[str], bottom: int) -> list[str]:
    out = [f'<text x="{x - 8}" y="{TOP - 28}" font-weight="600">{escape(TITLES[setup.weapon][line])}</text>']
    row = 0
    for number, (item, group) in enumerate(groupby(parts, key=lambda part: setup.parts[part].item)):
        members = list(group)
        y, height = TOP + ROW * row, ROW * len(members)
        out.append(f'<rect x="{x - 12}" y="{y}" width="{BOX}" height="{height}" fill="{BAND[number % 2]}"/>')
        label = escape(setup.items[item].kind)
        out.append(f'<text x="{x + BOX - 18}" y="{y + 16}" text-anchor="end" font-size="11" fill-opacity="0.7">{label}</text>')
        for member in members:
            centre = TOP + ROW * row + ROW // 2
            out.append(f'<circle cx="{x}" cy="{centre}" r="4"/>')
            out.append(f'<text x="{x + 14}" y="{centre + 4}">{escape(setup.parts[member].name)}</text>')
            row += 1
    return [*out, _wire(f"M{x} {TOP - 12} V{bottom}", line)]


def diagnosis_picture() -> str:
    """Draw what `foible diagnose` prints for a published case."""
    reasoning = Reasoning()
    console = Console(record=True, width=100, file=io.StringIO(), highlight=False, force_terminal=True, color_system="truecolor")
    console.print(f"$ foible diagnose examples/published/{CASE.name}\n")
    diagnosis = reasoning.diagnose(reasoning.case(CASE))
    show_diagnosis(console, reasoning, diagnosis, reasoning.verdict(diagnosis, 6))
    return console.export_svg(theme=THEME, code_format=FRAME, unique_id="foible")


def parts_table(setup: Setup) -> str:
    """Return a Markdown table of the left side's and the shared parts: good value, spread, failures, source."""
    rows = ["| part | good [Ω] | 95 % factor | failures | figure from |", "| --- | --- | --- | --- | --- |"]
    for part in setup.parts.values():
        if part.item.startswith("right"):
            continue
        good = f"{setup.network.branches[setup.network.index(part.id)].ohms:g}" if part.conducts else "insulates"
        spread = f"× ÷ {part.spread:g}" if part.conducts else ""
        modes = "; ".join(failure.mode for failure in setup.failures.values() if failure.part == part.id)
        rows.append(f"| {part.id} | {good} | {spread} | {modes} | {part.source} |")
    return "\n".join(rows) + "\n"


def sources_list(setup: Setup) -> str:
    """Return the citations behind the source keys."""
    return "\n".join(f"- **{key}**: {text}" for key, text in setup.citations.items()) + "\n"


def build(folder: Path) -> list[Path]:
    """Write everything below `folder` and return the paths."""
    made = {"pictures/diagnosis.svg": diagnosis_picture(), "pictures/layers.svg": layers_picture()}
    for weapon, stem in WEAPONS.items():
        setup = load_setup(weapon)
        made[f"pictures/{stem}-circuit.svg"] = circuit_picture(setup)
        drawn, shown = pictures_listed(stem, kit_pictures(setup), made)
        made |= drawn
        made[f"{stem}-parts.md"] = (
            f"# Parts of the {weapon} set-up\n\nMade by `docs/build.py` from the kit files. The right side mirrors the left.\n\n"
            f"{parts_table(setup)}\n## Where they are\n\n{shown}\n## Sources\n\n{sources_list(setup)}"
        )
    paths = []
    for name, text in made.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        paths.append(path)
    return paths


if __name__ == "__main__":
    for written in build(Path(sys.argv[1]) if len(sys.argv) > 1 else DOCS):
        print(written)
