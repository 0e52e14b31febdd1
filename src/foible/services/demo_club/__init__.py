"""The demo's club: three seasons of an invented club's workshop, made up from one seed and kept through an import."""

from foible.services.demo_club.filling import demo_rows, fill_register

__all__ = ["demo_rows", "fill_register"]
