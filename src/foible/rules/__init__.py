"""The rulebook as data: limits that a meter or a gauge checks, and what it tells a referee of a fault in the bout."""

from foible.rules.editions import Edition, edition_named
from foible.rules.limits import Judgement, Limit, judged, limits_of
from foible.rules.referee import QUESTIONS, Fault, Ruling, rulings
from foible.rules.requirements import USUAL_EDITION, Requirement, editions, requirements

__all__ = [
    "QUESTIONS",
    "USUAL_EDITION",
    "Edition",
    "Fault",
    "Judgement",
    "Limit",
    "Requirement",
    "Ruling",
    "edition_named",
    "editions",
    "judged",
    "limits_of",
    "requirements",
    "rulings",
]
