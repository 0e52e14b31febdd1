"""The demo: cases of the invented Lanternfield club at its invented Autumn Open."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from foible.services.cases import Cases

__all__ = ["COMPLAINT", "fill"]

COMPLAINT = ("foil", "It goes white, and I never hit anything", "left")
"""What the demo's fencer says."""
CASES = (
    (*COMPLAINT, "Lanternfield Autumn Open (invented), piste 3: it goes white, and I never hit anything"),
    ("épée", "I hit and nothing lit", "right", "Lanternfield Autumn Open (invented), piste 1: I hit and nothing lit"),
    ("sabre", "Some of my cuts give no light", "left", "Lanternfield Autumn Open (invented), piste 5: some cuts give no light"),
)


def fill(cases: Cases) -> None:
    """Open the demo's cases where there is none yet."""
    if cases.store.count():
        return
    for number, (weapon, say, side, title) in enumerate(reversed(CASES)):  # the latest opened is shown first
        cases.open_complaint(weapon, say, side, title=title, token=f"demo-{number}")
