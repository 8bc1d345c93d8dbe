"""The words of the command line: `options` has what they share, `answers` those that answer from a study.

Each is an `options.Command`, in the order in which the help lists them.
"""

from bandtrial.commands import answers, lab, new
from bandtrial.commands.options import Command

ALL = (
    answers.check, answers.start, answers.fit, answers.compare, answers.recommend, answers.plan, answers.watch,
    answers.report, answers.change, Command("new", (new.__doc__ or "").strip().rstrip("."), (new.arguments,), new.run),
    lab.lab,
)  # fmt: skip
