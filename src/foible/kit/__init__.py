"""Items, parts, joints and failure modes as data, and the strip set-up they make."""

from foible.kit.assemble import load_setup
from foible.kit.model import Connection, Failure, Item, Part, Point, Repair, Setup
from foible.kit.names import SIDES, WHOLE_SIDE, Book, other, plain

__all__ = [
    "SIDES",
    "WHOLE_SIDE",
    "Book",
    "Connection",
    "Failure",
    "Item",
    "Part",
    "Point",
    "Repair",
    "Setup",
    "load_setup",
    "other",
    "plain",
]
