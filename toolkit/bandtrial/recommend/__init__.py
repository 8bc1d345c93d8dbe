"""The best setting under limits and uncertainty, and its comparison with the published start.

`job`         what is asked for: machine, stock, material, thickness, prices
`gate`        may the draws of the fit carry an answer, and how wide
`longrun`     cost and output in the long run, by renewal-reward
`surface`     posterior draws to long-run averages over settings
`tried`       what was tried, how much evidence that is, how far beyond a setting may go
`proven`      what went well on the machine: the evidence that moves limits
`limits`      limits over settings; `checks` those that depend on when the band is changed; `stops` what binds next
`optimise`    grid and finer grid; the cost/output curve
`chosen`      the setting that is told, and `unsure` the one that comes nearest where no limit is sure
`rounding`    what a dial and a knob can hold
`answer`      `recommend`; `result` and `wording` its display
`comparison`  `compare`
"""

from .answer import recommend
from .comparison import Comparison, compare
from .job import NotYet
from .limits import Limit
from .result import Recommendation, Setting, Value

__all__ = ["Comparison", "Limit", "NotYet", "Recommendation", "Setting", "Value", "compare", "recommend"]
