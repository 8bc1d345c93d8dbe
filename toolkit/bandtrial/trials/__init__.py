"""Which cuts to try next, and when trying more is a waste.

`first`    the first plan of a shop without cuts of the work
`observe`  what a run would show, draw by draw; `seen` the readings of several
`value`    what showing it is worth
`board`    costs of all settings near, bands at hand, runs that could be made
`choice`   runs that may be made next, and what they cost; `telling` the one that tells most of a band's life
`plan`     the greedy choice; `run` one run; `why` the words
"""

from bandtrial.trials.first import Run

from .plan import Plan, plan

__all__ = ["Plan", "Run", "plan"]
