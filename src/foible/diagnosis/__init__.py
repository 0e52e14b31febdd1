"""Trials in; suspects, the next trial and the reasons out."""

from foible.diagnosis.advice.aims import Aim
from foible.diagnosis.advice.decision import Advice, Decision
from foible.diagnosis.advice.exchange import exchange_named
from foible.diagnosis.advice.permitted import seen_to_injure
from foible.diagnosis.advice.prices import asking_s
from foible.diagnosis.advice.proof import MOST_LINES, Proof
from foible.diagnosis.advice.tree import DECIDED, Leaf, Plan, Question, Tree, Way
from foible.diagnosis.belief.posterior import Share
from foible.diagnosis.carding import Complained, build_plan
from foible.diagnosis.ending import Act, Ending, Kind, ending_of
from foible.diagnosis.explain.circuit import Explanation, explain_lamps, explain_tools
from foible.diagnosis.explain.evidence import AlikeSuspects
from foible.diagnosis.explain.in_trial import explain_idea, explain_trial, telling_trial
from foible.diagnosis.explain.words import Circuit
from foible.diagnosis.reasoner import Finding, Reasoner, Suspect
from foible.diagnosis.separation import Separation
from foible.diagnosis.shown.hypotheses import NO_RATES, PRIOR_SOUND, SOUND, UNKNOWN, Activity, Rates
from foible.diagnosis.staged import StagedFault, StagedKit
from foible.diagnosis.testability import Testability

__all__ = [
    "DECIDED",
    "MOST_LINES",
    "NO_RATES",
    "PRIOR_SOUND",
    "SOUND",
    "UNKNOWN",
    "Act",
    "Activity",
    "Advice",
    "Aim",
    "AlikeSuspects",
    "Circuit",
    "Complained",
    "Decision",
    "Ending",
    "Explanation",
    "Finding",
    "Kind",
    "Leaf",
    "Plan",
    "Proof",
    "Question",
    "Rates",
    "Reasoner",
    "Separation",
    "Share",
    "StagedFault",
    "StagedKit",
    "Suspect",
    "Testability",
    "Tree",
    "Way",
    "asking_s",
    "build_plan",
    "ending_of",
    "exchange_named",
    "explain_idea",
    "explain_lamps",
    "explain_tools",
    "explain_trial",
    "seen_to_injure",
    "telling_trial",
]
