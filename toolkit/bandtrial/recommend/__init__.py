"""The best setting under limits and uncertainty, and its comparison with the published start.

`job`         what is asked for: machine, stock, material, thickness, prices
`longrun`     cost and output in the long run, by renewal-reward
`surface`     posterior draws to long-run averages over settings
`tried`       what was tried, how much evidence that is, how far beyond a setting may go
`limits`      limits over a grid; `checks` the limits of one setting in words
`optimise`    grid and finer grid; the cost/output curve
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
