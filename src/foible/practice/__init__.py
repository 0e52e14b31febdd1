"""What teaches: the steps in which a circuit is gone through, worked out by the same model that finds faults."""

from foible.practice.ideas import Exercise, Result, Subject, subject, subjects
from foible.practice.meanings import LampMeaning, lamp_meanings, measured_words
from foible.practice.walk import Walk, WalkStep, load_walk
from foible.practice.worked import StepShown, worked

__all__ = [
    "Exercise",
    "LampMeaning",
    "Result",
    "StepShown",
    "Subject",
    "Walk",
    "WalkStep",
    "lamp_meanings",
    "load_walk",
    "measured_words",
    "subject",
    "subjects",
    "worked",
]
