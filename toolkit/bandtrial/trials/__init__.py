"""Which cuts to try next, and when trying more is a waste.

`run`      one run, the names of bands to come, how far beyond what was tried it may go, what it would show
`first`    the first plan of a shop without cuts of the work
`board`    costs of all settings near, bands at hand, runs that could be made
`choice`   what runs are worth and cost, the one that tells most of a band's life, the words
`plan`     the greedy choice
"""

from bandtrial.trials.run import Run

from .plan import Plan, plan

__all__ = ["Plan", "Run", "plan"]
