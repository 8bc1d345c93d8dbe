"""What cutting costs: pure functions of numbers or arrays, in inside units; arrays broadcast.

`taylor`      the life law V T^n = C and linear damage
`economy`     a known life: cost per area and cut, minimum-cost and greatest-output speed in closed form
`change_out`  the same when the life scatters and the band may be changed before it ends

Which do I need? A life law and no scatter: `economy`. Weibull lives, a change-out point, a piece lost when
the band dies in the cut: `change_out`.
"""

from bandtrial.costs.change_out import (
    best_change_out,
    competing_ends,
    cycle_area,
    cycle_cost,
    expected_cost_rate,
    expected_output_rate,
    weibull_failed_by,
    weibull_mean_until,
)
from bandtrial.costs.economy import (
    cost_per_area,
    cost_per_cut,
    maximum_output_life,
    maximum_output_speed,
    minimum_cost_life,
    minimum_cost_speed,
    output_rate,
)
from bandtrial.costs.taylor import (
    TaylorLaw,
    cutting_constant,
    remaining_life_linear_damage,
    taylor_from_two_points,
    taylor_life,
    taylor_speed,
    wear_used,
)

__all__ = [
    "TaylorLaw",
    "best_change_out",
    "competing_ends",
    "cost_per_area",
    "cost_per_cut",
    "cutting_constant",
    "cycle_area",
    "cycle_cost",
    "expected_cost_rate",
    "expected_output_rate",
    "maximum_output_life",
    "maximum_output_speed",
    "minimum_cost_life",
    "minimum_cost_speed",
    "output_rate",
    "remaining_life_linear_damage",
    "taylor_from_two_points",
    "taylor_life",
    "taylor_speed",
    "wear_used",
    "weibull_failed_by",
    "weibull_mean_until",
]
