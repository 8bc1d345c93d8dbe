"""The table of forms and constants. Wide on purpose: what real saws may do, where nobody has measured.

Spread of lives 25 to 45 %, third stages, feed over cutting force 0.35 to 0.9: the handbook's practice and public tables
of tools (tests/data/realdata). All other ranges are our own ("common practice, no source"); no prior of bandtrial's was
looked at.
"""

from __future__ import annotations

from bandtrial_lessons.worlds.latent import Table, choice, even, even_log, normal, sometimes

FORMS = {
    "speed": ("power", "heat_onset", "exponential", "built_up_edge", "abrasion_and_heat"),
    "chip": ("power", "rubbing", "chipping", "rubbing_and_chipping", "cliff"),
    "dulling": ("break_in_and_line", "power", "three_stages", "late"),
    "share": ("own", "with_the_chip", "between", "turning_own"),
    "deviation": ("power", "threshold", "straying", "tension"),
    "end": ("weibull", "threshold", "chipping", "deviation"),
}
"""Names of the forms; `forms` has their equations."""

SPEED = {
    "speed_form": choice(1, 1, 1, 1, 1),
    "life": even_log(3.0, 40.0),          # contact minutes at the published start, 10 um
    "speed_power": even(2.5, 8.0),
    "power_cold": even(0.8, 2.5),         # below the onset of heat
    "power_hot": even(5.0, 12.0),         # above it
    "heat_onset": even_log(0.65, 1.3),    # V/V*
    "exponential": even(2.5, 7.0),        # per V/V*
    "built_up": even_log(0.05, 0.9),      # share of wear by a built-up edge at V*
    "built_up_power": even(1.0, 4.0),
    "abrasion": even(0.1, 0.7),           # share of abrasion at V*
    "activation": even(4.0, 14.0),        # over the temperature at V*
}  # fmt: skip
CHIP = {
    "chip_form": choice(1, 1, 1, 1, 1),
    "chip_power": even(0.8, 3.2),         # alone; 0.6 of it beside rubbing or chipping
    "rub_chip": even_log(3.0, 10.0),      # um
    "rub_power": even(2.0, 5.0),
    "chipping_chip": even_log(10.0, 28.0),  # um
    "chipping_power": even(3.0, 10.0),
    "cliff": even_log(4.0, 30.0),         # fall of life beyond it
    "thickness_power": even(-0.2, 0.6),
}  # fmt: skip
FORCE = {
    "force": even_log(0.55, 1.8),         # over the guess by the metal
    "chip_exponent": even(0.55, 0.95),
    "sharp_edge": even(0.03, 0.4),        # share of a sharp edge's own force at 10 um
    "ratio": even(0.35, 0.75),            # feed over cutting force, new
    "ratio_growth": even(0.0, 1.0),       # share of the way to 0.9 by wear 1
    "friction": even(0.0, 0.15),          # of the drive, share of the power at the published start
    "dulling_form": choice(1, 1, 1, 1),
    "dulling": even_log(0.25, 1.8),       # growth of the force at wear 1, 10 um
    "break_in": even(0.0, 0.3),           # part of it that is break-in
    "break_in_wear": even_log(0.015, 0.12),
    "dulling_power": even(1.3, 2.5),
    "third_share": even(0.4, 0.8),
    "third_power": even(4.0, 8.0),
    "late": even(0.5, 0.8),
    "share_form": choice(1, 1, 2, 1),
    "own": even(0.0, 1.0),                # share of the growth that is the edge's own, whatever the chip
}  # fmt: skip
DEVIATION = {
    "deviation_form": choice(1, 1, 1, 1),
    "deviation": even_log(0.01, 0.08),    # mm, new, at the published start
    "deviation_chip": even(0.2, 1.2),
    "deviation_speed": even(-0.3, 0.5),
    "deviation_growth": even_log(0.4, 6.0),
    "deviation_power": even(1.0, 2.5),
    "deviation_onset": even(0.3, 0.8),
    "straying": even(0.7, 0.95),          # from one cut to the next
}  # fmt: skip
SCATTER = {
    "power_noise": even_log(0.015, 0.15),
    "time_noise": even_log(0.015, 0.06),  # at a set force
    "deviation_noise": even_log(0.06, 0.25),
    "heavy": sometimes(0.3, lambda u: 1.0 + 0 * u),  # t with 3 degrees of freedom instead of 30
    "band_scatter": even(0.10, 0.45),
    "batch": sometimes(0.6, even(0.2, 0.7)),         # share of its variance that a batch shares
    "power_band": even(0.0, 0.06),
    "deviation_band": even(0.05, 0.35),
    "end_form": choice(1, 1, 1, 1),
    "end_shape": even_log(1.5, 6.0),
    "end_spread": even(0.05, 0.2),
    "chipping_hazard": even_log(0.4, 1.5),
    "hazard_chip": even(0.5, 2.5),
    "deviation_end": even_log(0.7, 1.4),  # level over that of wear 1 at the published start
    "break_cycles": even_log(8e4, 1e6),
    "break_shape": even(1.5, 3.0),
    "dial": even(-0.08, 0.08),            # log of true over indicated speed
}  # fmt: skip
MATERIALS = {f"{what}_{i}": normal(0.0, sd) for i in (1, 2) for what, sd in (("life", 0.35), ("force", 0.15))}
"""How the other two materials differ from what their published speeds and groups say."""

CONSTANTS = Table(SPEED | CHIP | FORCE | DEVIATION | SCATTER | MATERIALS)
