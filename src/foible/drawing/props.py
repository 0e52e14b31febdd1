"""The name of a tool in, the tool as it lies or is held in a picture out."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from foible.drawing.layout import Layout
from foible.drawing.path import Rectangle
from foible.drawing.scene import Figure, figure
from foible.drawing.sketches import sketch_for

if TYPE_CHECKING:
    from foible.drawing.path import Place

__all__ = ["gauge_prop", "prop", "prop_box"]

PROPS = 64
"""Tools whose drawings stay in memory."""
_GAUGES = {"weight": "weight", "shim": "shim"}


@lru_cache(PROPS)
def prop(name: str, at: Place, scale: float = 1.0) -> Figure:
    """Return a tool drawn about `at`, as a figure of no item."""
    drawn = figure("", sketch_for("item", f"prop {name}", ""), Layout())
    return Figure("", drawn.sketch, drawn.mirrored, [(look, path.moved(scale, *at)) for look, path in drawn.shapes], [], None, at)


def prop_box(name: str, at: Place, scale: float = 1.0) -> Rectangle:
    """Return the area that a tool takes."""
    return Rectangle.around(place for _, path in prop(name, at, scale).shapes for place in path.places)


def gauge_prop(gauge: str) -> str:
    """Return the name of the tool that looks like a gauge, such as “500 g weight”."""
    return next((name for word, name in _GAUGES.items() if gauge.endswith(word)), "gauge")
