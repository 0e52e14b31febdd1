"""The foil strip, by the names that the foil tests use."""

from __future__ import annotations

from typing import TYPE_CHECKING

from strip import strip

if TYPE_CHECKING:
    from foible.kit import Setup

_FOIL = strip("foil")
arrangement = _FOIL.arrangement
lamps = _FOIL.lamps
lit = _FOIL.lit


def setup() -> Setup:
    """Return the shipped foil set-up."""
    return _FOIL.setup
