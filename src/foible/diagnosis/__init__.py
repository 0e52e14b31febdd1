"""From trials to suspects, the next trial and the reasons."""

from foible.diagnosis.evidence import AlikeSuspects
from foible.diagnosis.explain import Explanation, explain, explain_tools, named_lamp
from foible.diagnosis.hypotheses import SOUND, UNKNOWN
from foible.diagnosis.nexttrial import Advice, Aim, Decision, Mode, Situation
from foible.diagnosis.posterior import Share
from foible.diagnosis.proof import Proof
from foible.diagnosis.reasoner import Finding, Reasoner, Suspect
from foible.diagnosis.telling import Circuit

__all__ = [
    "SOUND",
    "UNKNOWN",
    "Advice",
    "Aim",
    "AlikeSuspects",
    "Circuit",
    "Decision",
    "Explanation",
    "Finding",
    "Mode",
    "Proof",
    "Reasoner",
    "Share",
    "Situation",
    "Suspect",
    "explain",
    "explain_tools",
    "named_lamp",
]
