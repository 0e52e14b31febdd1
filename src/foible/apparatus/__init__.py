"""What lights: rule profiles and the lamps they give."""

from foible.apparatus.lamps import TERMINALS, Lamp, lamp_chances, weapon_ports
from foible.apparatus.profile import Gap, Profile, load_profile, profile_names

__all__ = ["TERMINALS", "Gap", "Lamp", "Profile", "lamp_chances", "load_profile", "profile_names", "weapon_ports"]
