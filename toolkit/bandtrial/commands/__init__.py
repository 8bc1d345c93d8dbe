"""One module for each word of the command line: `arguments(parser)` declares it, `run(args)` does it.

The first line of a module's docstring is its help. Modules import inside `run` what only they need, so that
one word never pays for another.
"""

from bandtrial.commands import change, check, compare, fit, lab, new, plan, recommend, report, start, watch

ALL = (check, start, fit, compare, recommend, plan, watch, report, change, new, lab)
