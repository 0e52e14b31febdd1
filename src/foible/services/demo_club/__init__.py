"""The demo's club: three seasons of an invented club's workshop, made up from one seed, and weapon control at its competition."""

from foible.services.demo_club.at_table import fill_table
from foible.services.demo_club.filling import demo_rows, fill_register
from foible.services.demo_club.practising import fill_practice

__all__ = ["demo_rows", "fill_practice", "fill_register", "fill_table"]
