"""The kit's data in, SVG pictures of the strip, of an item and of a part out."""

from foible.drawing.creep import creep_svg
from foible.drawing.howto import how_svg
from foible.drawing.item import item_svg
from foible.drawing.lame_map import lame_map_svg
from foible.drawing.marks import Marks
from foible.drawing.part import part_svg
from foible.drawing.plots import answers_svg, interval_svg, pareto_svg, survival_svg
from foible.drawing.strip import strip_svg
from foible.drawing.style import STYLE

__all__ = [
    "STYLE",
    "Marks",
    "answers_svg",
    "creep_svg",
    "how_svg",
    "interval_svg",
    "item_svg",
    "lame_map_svg",
    "pareto_svg",
    "part_svg",
    "strip_svg",
    "survival_svg",
]
