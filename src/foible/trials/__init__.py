"""Trials and cases: what somebody wrote down goes in, what was done and what was seen comes out."""

from foible.trials.alone import made_alone
from foible.trials.answers import earth_unsaid, put_right, report_key, reported, signs_of
from foible.trials.arrange import Arranged, arranged, drawn_plugs
from foible.trials.casefile import (
    LARGEST_CASE,
    Case,
    CaseReading,
    Expected,
    ParsedCase,
    Slip,
    case_reading,
    file_bytes,
    made_case,
    parsed_case,
    read_case,
)
from foible.trials.casetable import CaseTable, ExpectTable, case_text, ended_text, file_text, headed_text
from foible.trials.catalogue import Idea, load_catalogue
from foible.trials.complaints import Complaint, complained_of, complaint_named, load_complaints
from foible.trials.known import former_names, names_in, names_of
from foible.trials.read import TrialTable, box_pairs, read_trial
from foible.trials.readings import OVER_RANGE_OHMS, Reading, read_reading
from foible.trials.renaming import todays_head, todays_names, todays_trial
from foible.trials.seen import looks_of, read_seen
from foible.trials.trial import BOTH, LIT_BEFORE, NOTHING, STATE, Arrangement, Group, Look, Seen, Trial, groups_of
from foible.trials.words import described
from foible.trials.written import written

__all__ = [
    "BOTH",
    "LARGEST_CASE",
    "LIT_BEFORE",
    "NOTHING",
    "OVER_RANGE_OHMS",
    "STATE",
    "Arranged",
    "Arrangement",
    "Case",
    "CaseReading",
    "CaseTable",
    "Complaint",
    "ExpectTable",
    "Expected",
    "Group",
    "Idea",
    "Look",
    "ParsedCase",
    "Reading",
    "Seen",
    "Slip",
    "Trial",
    "TrialTable",
    "arranged",
    "box_pairs",
    "case_reading",
    "case_text",
    "complained_of",
    "complaint_named",
    "described",
    "drawn_plugs",
    "earth_unsaid",
    "ended_text",
    "file_bytes",
    "file_text",
    "former_names",
    "groups_of",
    "headed_text",
    "load_catalogue",
    "load_complaints",
    "looks_of",
    "made_alone",
    "made_case",
    "names_in",
    "names_of",
    "parsed_case",
    "put_right",
    "read_case",
    "read_reading",
    "read_seen",
    "read_trial",
    "report_key",
    "reported",
    "signs_of",
    "todays_head",
    "todays_names",
    "todays_trial",
    "written",
]
