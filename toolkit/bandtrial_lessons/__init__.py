"""Lessons: six class periods on contour saws, each student on a shop of their own.

`begin`     a lesson for a student: questions, predictions, checks, readings, drawings
`examples`  worked examples, step by step
`question`, `reading`, `record`   a question, how answers are read and judged, what is kept of them
`teaching`, `trial_shop`, `bench`  the saws: of lessons 1 to 3, of lesson 4, and the one to set up
`speed_life`, `feed_teeth`, `cut_cost`, `own_trial`, `set_up`, `chips_signs`    the lessons
`instructor`  keys, truths, classes, grading; not in the students' wheel
"""

from bandtrial_lessons.begin import begin
from bandtrial_lessons.lesson import Lesson
from bandtrial_lessons.question import Question, Slip, Verdict
from bandtrial_lessons.worked import examples

__all__ = ["Lesson", "Question", "Slip", "Verdict", "begin", "examples"]
