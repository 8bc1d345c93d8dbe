"""The best setting under limits and uncertainty, and its comparison with the published start.

`job`         what is asked for: machine, stock, material, thickness, prices; may the fit carry an answer, how wide
`longrun`     cost and output in the long run, by renewal-reward: posterior draws to averages over settings
`tried`       what was tried, how much evidence that is, how far beyond a setting may go
`proven`      what went well on the machine: the evidence that moves limits
`limits`      limits over settings; `others` what binds next
`condition`   when the band is changed, by a reading, after an area or at its end
`optimise`    grid and finer grid; the cost/output curve
`chosen`      the setting that is told
`rounding`    what a dial and a knob can hold
`answer`      `recommend` and its result; `card`, `remarks` and `wording` its display
`comparison`  `compare`
"""

from .answer import Recommendation, Setting, recommend
from .comparison import Comparison, compare
from .job import NotYet, Value
from .limits import Limit

__all__ = ["Comparison", "Limit", "NotYet", "Recommendation", "Setting", "Value", "compare", "recommend"]
