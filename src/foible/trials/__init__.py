"""Trials and cases: what was done and what was seen."""

from foible.trials.answers import report_key, reported, signs_of
from foible.trials.arrange import Arranged, arranged
from foible.trials.casefile import Case, CaseTable, Expected, case_text, made_case, read_case
from foible.trials.catalogue import Idea, load_catalogue
from foible.trials.complaints import Complaint, complaint_named, load_complaints
from foible.trials.read import TrialTable, read_trial
from foible.trials.readings import OVER_RANGE_OHMS, Reading, read_reading
from foible.trials.seen import looks_of, read_seen
from foible.trials.trial import LIT_BEFORE, NOTHING, STATE, Arrangement, Group, Look, Seen, Trial
from foible.trials.words import described

__all__ = [
    "LIT_BEFORE",
    "NOTHING",
    "OVER_RANGE_OHMS",
    "STATE",
    "Arranged",
    "Arrangement",
    "Case",
    "CaseTable",
    "Complaint",
    "Expected",
    "Group",
    "Idea",
    "Look",
    "Reading",
    "Seen",
    "Trial",
    "TrialTable",
    "arranged",
    "case_text",
    "complaint_named",
    "described",
    "load_catalogue",
    "load_complaints",
    "looks_of",
    "made_case",
    "read_case",
    "read_reading",
    "read_seen",
    "read_trial",
    "report_key",
    "reported",
    "signs_of",
]
