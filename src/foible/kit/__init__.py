"""Kit files in; items, parts, joints and failure modes out, and the strip set-up they make."""

from foible.kit.assemble import load_setup
from foible.kit.braces import filled, side_words
from foible.kit.draft import node_item
from foible.kit.fittings import Slot, fittings, slots_of
from foible.kit.folders import kit_stamp, overlaid_file
from foible.kit.former import Former, FormerNames, Renamed, What, load_former
from foible.kit.model import Connection, Failure, Item, Part, Point, Repair, Setup
from foible.kit.names import HARD_HIT, SIDES, WHOLE_SIDE, Book, job, job_parts, other, plain
from foible.kit.weapon import Condition, Measurement, Sentence, Weapon, WeaponLamp
from foible.kit.weapons import all_weapons, default_weapon, weapon_at, weapon_names

__all__ = [
    "HARD_HIT",
    "SIDES",
    "WHOLE_SIDE",
    "Book",
    "Condition",
    "Connection",
    "Failure",
    "Former",
    "FormerNames",
    "Item",
    "Measurement",
    "Part",
    "Point",
    "Renamed",
    "Repair",
    "Sentence",
    "Setup",
    "Slot",
    "Weapon",
    "WeaponLamp",
    "What",
    "all_weapons",
    "default_weapon",
    "filled",
    "fittings",
    "job",
    "job_parts",
    "kit_stamp",
    "load_former",
    "load_setup",
    "node_item",
    "other",
    "overlaid_file",
    "plain",
    "side_words",
    "slots_of",
    "weapon_at",
    "weapon_names",
]
