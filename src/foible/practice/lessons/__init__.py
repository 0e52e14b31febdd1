"""Lessons: files in, pages of text and questions out, every answer worked out by the model that finds faults."""

from foible.practice.lessons.checking import check_folder, check_lessons
from foible.practice.lessons.lesson import Choice, Lesson, LessonStep, Marked, Question
from foible.practice.lessons.loading import Listed, lesson_names, list_lessons, load_lesson
from foible.practice.lessons.situation import Situation, lamp_list, lamps_said

__all__ = [
    "Choice",
    "Lesson",
    "LessonStep",
    "Listed",
    "Marked",
    "Question",
    "Situation",
    "check_folder",
    "check_lessons",
    "lamp_list",
    "lamps_said",
    "lesson_names",
    "list_lessons",
    "load_lesson",
]
