"""Items, parts, joints and failure modes as data, and the strip set-up they make."""

from foible.kit.assemble import load_setup
from foible.kit.fittings import fittings, weapon_names
from foible.kit.folders import kit_stamp
from foible.kit.former import Former, FormerNames, Renamed, What, load_former
from foible.kit.model import Connection, Failure, Item, Part, Point, Repair, Setup
from foible.kit.names import SIDES, WHOLE_SIDE, Book, other, plain

__all__ = [
    "SIDES",
    "WHOLE_SIDE",
    "Book",
    "Connection",
    "Failure",
    "Former",
    "FormerNames",
    "Item",
    "Part",
    "Point",
    "Renamed",
    "Repair",
    "Setup",
    "What",
    "fittings",
    "kit_stamp",
    "load_former",
    "load_setup",
    "other",
    "plain",
    "weapon_names",
]
