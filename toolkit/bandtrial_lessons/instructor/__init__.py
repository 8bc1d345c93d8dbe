"""The instructor's part: keys, truths, notebooks, classes and their grading. Not in the students' wheel.

`classes`     a class: its secret, its roster, the code of each student
`solutions`   expected answers and the ways to them
`rivals`, `reveal`  what a trial's setting is measured against, and the truth of its shop
`grading`, `tables` what was handed in, judged again, as tables for people and for learning platforms
`notebooks`   the instructors' notebooks, made from the students'
"""

from bandtrial_lessons.instructor.grading import grade
from bandtrial_lessons.instructor.reveal import Reveal, reveal_of
from bandtrial_lessons.instructor.solutions import Solution, class_key, key, solution

__all__ = ["Reveal", "Solution", "class_key", "grade", "key", "reveal_of", "solution"]
