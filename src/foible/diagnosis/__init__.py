"""From trials to suspects, the next trial and the reasons."""

from foible.diagnosis.explain import Circuit, Explanation, explain, named_lamp
from foible.diagnosis.hypotheses import SOUND, UNKNOWN
from foible.diagnosis.nexttrial import Advice
from foible.diagnosis.posterior import Share
from foible.diagnosis.reasoner import Finding, Reasoner, Suspect

__all__ = [
    "SOUND",
    "UNKNOWN",
    "Advice",
    "Circuit",
    "Explanation",
    "Finding",
    "Reasoner",
    "Share",
    "Suspect",
    "explain",
    "named_lamp",
]
