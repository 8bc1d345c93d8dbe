"""Worlds: shops whose physics nobody told the fit, for exams. Forms and constants both vary with the seed, widely.

`laws`       the table of constants and forms, each with its law        `latent`  standard normals to constants
`sheet`      what a shop knows of itself         `setup`    its study.toml
`forms`      life against speed and chip load, dulling, deviation        `physics`  all together, for many worlds
`ends`       which bands are left                `longrun`  cost per area in the long run, with change-out
`limits`     what a setting breaks               `best`     the best setting
`bands`      a band at work                      `world`    the shop: makes cuts, logs them, knows the truth
`logs`       a narrow trial, old bands
`path`       a log as arrays          `likelihood`, `observer`   the ideal observer, who knows all but the world
"""

from bandtrial_lessons.worlds.laws import FORMS
from bandtrial_lessons.worlds.sheet import KINDS, Sheet
from bandtrial_lessons.worlds.world import World

__all__ = ["FORMS", "KINDS", "Sheet", "World"]
