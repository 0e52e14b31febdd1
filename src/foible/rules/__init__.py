"""The rulebook as data: what weapon control requires, in editions, and what it tells a referee of a fault in the bout."""

from foible.rules.difference import Difference, differences
from foible.rules.editions import Edition, edition_named, kinds_of_rules, tools_of_rules, weapons_of_rules
from foible.rules.finding import found, near_words
from foible.rules.limits import Judgement, Limit, judged, limits_of
from foible.rules.referee import QUESTIONS, Fault, Ruling, rulings
from foible.rules.requirements import USUAL_EDITION, Requirement, editions, requirements

__all__ = [
    "QUESTIONS",
    "USUAL_EDITION",
    "Difference",
    "Edition",
    "Fault",
    "Judgement",
    "Limit",
    "Requirement",
    "Ruling",
    "differences",
    "edition_named",
    "editions",
    "found",
    "judged",
    "kinds_of_rules",
    "limits_of",
    "near_words",
    "requirements",
    "rulings",
    "tools_of_rules",
    "weapons_of_rules",
]
