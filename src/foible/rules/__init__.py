"""The rulebook as data: limits that a meter or a gauge checks, and what it tells a referee of a fault in the bout."""

from foible.rules.limits import Judgement, Limit, judged, limits_of
from foible.rules.referee import QUESTIONS, Fault, Ruling, rulings

__all__ = ["QUESTIONS", "Fault", "Judgement", "Limit", "Ruling", "judged", "limits_of", "rulings"]
