"""The strip drawn from the kit's data: our own SVG pictures of the set-up, of an item and of a part."""

from foible.drawing.item import item_svg
from foible.drawing.marks import Marks
from foible.drawing.part import part_svg
from foible.drawing.strip import strip_svg
from foible.drawing.style import STYLE

__all__ = ["STYLE", "Marks", "item_svg", "part_svg", "strip_svg"]
