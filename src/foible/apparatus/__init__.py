"""Resistances at the apparatus in, the lamps that light out, as the rule profiles have it."""

from foible.apparatus.lamps import TERMINALS, Lamp, lamp_chances, open_chances, weapon_ports
from foible.apparatus.profile import Gap, Profile, load_profile, profile_names
from foible.apparatus.timing import Window, chance_both_register

__all__ = [
    "TERMINALS",
    "Gap",
    "Lamp",
    "Profile",
    "Window",
    "chance_both_register",
    "lamp_chances",
    "load_profile",
    "open_chances",
    "profile_names",
    "weapon_ports",
]
