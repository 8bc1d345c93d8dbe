"""Lessons: four class periods on speed, feed, cost and trials, each student on a shop of their own.

`begin`         a lesson for a student: questions, checks, readings, drawings
`grade`         one table of what a class has handed in; `python -m bandtrial_lessons FOLDER` prints it
`class_key`     the expected answers of a class
`question`, `reading`       a question, and how answers are read and judged
`teaching`, `wear_run`      the shops of lessons 1 to 3, and the trial of the first
`speed_life`, `feed_teeth`, `cut_cost`, `own_trial`    the lessons
"""

from bandtrial_lessons.begin import begin, class_key
from bandtrial_lessons.grading import grade
from bandtrial_lessons.lesson import Lesson, Solution
from bandtrial_lessons.question import Question, Slip, Verdict
from bandtrial_lessons.worked import examples

__all__ = ["Lesson", "Question", "Slip", "Solution", "Verdict", "begin", "class_key", "examples", "grade"]
