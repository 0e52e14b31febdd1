"""The rulebook as data: limits that a meter or a gauge checks, and what a reading is worth against them."""

from foible.rules.limits import Judgement, Limit, judged, limits_of

__all__ = ["Judgement", "Limit", "judged", "limits_of"]
