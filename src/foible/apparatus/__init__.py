"""What lights: rule profiles and the lamps they give."""

from foible.apparatus.lamps import TERMINALS, Lamp, foil_lamps, foil_ports
from foible.apparatus.profile import Gap, Profile, load_profile, profile_names

__all__ = ["TERMINALS", "Gap", "Lamp", "Profile", "foil_lamps", "foil_ports", "load_profile", "profile_names"]
