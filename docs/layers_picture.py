"""The picture of the layers in docs/architecture.md: a row for each layer, a mark in the column of each one that it imports."""

from __future__ import annotations

from docs.layers import MAY_IMPORT, used

__all__ = ["layers_picture"]

CELL, LEFT, TOP, MARGIN = 30, 190, 170, 24
INK, BAND, SOFT = "#22303c", "#eef2f5", "#7d8fa1"
FONT = 'font-family="system-ui, sans-serif" font-size="14"'


def layers_picture() -> str:
    """Return the picture of the imports that there are now.

    Layers stand in the order of the table, those that use others above them; so every mark lies right of the diagonal.
    """
    imported = used()
    layers = list(reversed(MAY_IMPORT))
    side = CELL * len(layers)
    width, height = LEFT + side + MARGIN, TOP + side + 2 * MARGIN + CELL
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" {FONT} fill="{INK}">',
        "<title>Which layers of src/foible import which, read from the sources</title>",
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>',
    ]
    for row, name in enumerate(layers):
        y = TOP + CELL * row
        if not row % 2:
            out.append(f'<rect x="{MARGIN}" y="{y}" width="{LEFT - MARGIN + side}" height="{CELL}" fill="{BAND}"/>')
        out.append(f'<text x="{LEFT - 12}" y="{y + 20}" text-anchor="end">{name}</text>')
        out.append(f'<text transform="translate({LEFT + CELL * row + 20} {TOP - 10}) rotate(-90)">{name}</text>')
        out.append(f'<rect x="{LEFT + CELL * row + 8}" y="{y + 8}" width="14" height="14" fill="{SOFT}"/>')
        for column, other in enumerate(layers):
            x = LEFT + CELL * column + CELL // 2
            if other in imported[name]:
                out.append(_mark(x, y + CELL // 2, INK, f"{name} imports {other}"))
            elif other in MAY_IMPORT[name].split():
                out.append(_mark(x, y + CELL // 2, "none", f"{name} may import {other} and does not"))
    words = "a row imports the columns with a dot · ring: it may, and does not · square: itself"
    out.append(f'<text x="{LEFT + side}" y="{TOP + side + MARGIN + 10}" text-anchor="end" fill="{INK}">{words}</text>')
    return "\n".join([*out, "</svg>"]) + "\n"


def _mark(x: int, y: int, fill: str, words: str) -> str:
    return f'<circle cx="{x}" cy="{y}" r="6" fill="{fill}" stroke="{INK}" stroke-width="1.5"><title>{words}</title></circle>'
