"""How a case can end for good, as a value that the records keep: what became of the kit, not what the reasoning thought."""

from __future__ import annotations

from enum import Enum

from foible.errors import UnknownNameError

__all__ = ["CaseEnding", "ending_named"]


class CaseEnding(Enum):
    """How a case ended; the value is what people, case files and programs call it."""

    EXCHANGED = "exchanged and fencing"
    MENDED = "mended and proved"
    UNPROVED = "put right, not proved"
    """Exchanged or mended, and closed before every line of the proof had passed."""
    NOT_NOW = "does not happen now"
    """What was complained of did not come back; nobody has found that all is well."""
    NO_FAULT = "no fault found"
    OUT_OF_USE = "out of use"
    """Broken or out of gauge, and taken away from fencers."""
    WORKSHOP = "to the workshop"

    @property
    def puts_right(self) -> bool:
        """Whether something must have been exchanged or mended for it."""
        return self in {CaseEnding.EXCHANGED, CaseEnding.MENDED, CaseEnding.UNPROVED}

    @property
    def needs_proof(self) -> bool:
        """Whether every line of a proof must have passed for it."""
        return self in {CaseEnding.EXCHANGED, CaseEnding.MENDED}

    @property
    def about_item(self) -> bool:
        """Whether it says what became of an item."""
        return self in {CaseEnding.OUT_OF_USE, CaseEnding.WORKSHOP}


def ending_named(name: str) -> CaseEnding:
    """Return an ending by what it is called, whatever its capitals and spaces. Raises UnknownNameError."""
    wanted = " ".join(name.lower().split())
    known = {ending.value: ending for ending in CaseEnding}
    if wanted not in known:
        raise UnknownNameError(what="ending", name=name, known=known, all_named=True)
    return known[wanted]
