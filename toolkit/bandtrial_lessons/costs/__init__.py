"""What cutting costs at a known life: pure functions of numbers or arrays, in inside units; arrays broadcast.

`taylor`   the life law V T^n = C and linear damage
`economy`  cost per area and cut, minimum-cost and greatest-output speed in closed form
"""

from bandtrial_lessons.costs.economy import (
    cost_per_area,
    cost_per_cut,
    maximum_output_life,
    maximum_output_speed,
    minimum_cost_life,
    minimum_cost_speed,
    output_rate,
)
from bandtrial_lessons.costs.taylor import (
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
    "cost_per_area",
    "cost_per_cut",
    "cutting_constant",
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
]
