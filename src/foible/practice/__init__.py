"""What teaches: the steps in which a circuit is gone through, worked out by the same model that finds faults."""

from foible.practice.attempt import NOTHING_WRONG, Attempt, Deed, Done, Naming, Step, jobs_of, read_steps, written_steps
from foible.practice.hidden import Hidden, Level, benched, hidden, level_named, staged
from foible.practice.ideas import Exercise, Result, Subject, subject, subjects
from foible.practice.judged import Judged, judged, points, shows_fault
from foible.practice.meanings import LampMeaning, lamp_meanings, measured_words
from foible.practice.walk import Walk, WalkStep, load_walk
from foible.practice.worked import StepShown, worked

__all__ = [
    "NOTHING_WRONG",
    "Attempt",
    "Deed",
    "Done",
    "Exercise",
    "Hidden",
    "Judged",
    "LampMeaning",
    "Level",
    "Naming",
    "Result",
    "Step",
    "StepShown",
    "Subject",
    "Walk",
    "WalkStep",
    "benched",
    "hidden",
    "jobs_of",
    "judged",
    "lamp_meanings",
    "level_named",
    "load_walk",
    "measured_words",
    "points",
    "read_steps",
    "shows_fault",
    "staged",
    "subject",
    "subjects",
    "worked",
    "written_steps",
]
