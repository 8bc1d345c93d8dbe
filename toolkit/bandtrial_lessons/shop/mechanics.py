"""The hidden mechanics of one machine, one kind of band, one material and one coolant; arrays broadcast."""

from dataclasses import dataclass

import numpy as np
from bandtrial import sawing
from bandtrial.sawing import Numbers

from bandtrial_lessons.shop.config import EDGE_METAL, HEAT, VirtualMachine, VirtualMaterial, VirtualStock
from bandtrial_lessons.shop.force import chip_force, chip_load_at_thrust, edge_growth
from bandtrial_lessons.shop.wear_rate import chipping, wear_rate

POST_CLEARANCE = 6.0
"""Of the upper guide above the work, added to the guide span [mm]; common practice, no source."""
FORCED_CHIPS = (0.2, 200.0)
"""Least and greatest chip load the sums go through at a set feed force [um]."""


@dataclass(frozen=True)
class Mechanics:
    """What really happens when this band on this machine saws this material."""

    machine: VirtualMachine
    stock: VirtualStock
    material: VirtualMaterial
    coolant: str = "flood"

    @property
    def spacing(self) -> float:
        """Tooth spacing p [mm]."""
        return self.stock.sheet.tooth_spacing

    @property
    def feed_name(self) -> str:
        """ "feed_rate" or "feed_force": what is set on the machine."""
        return "feed_force" if self.machine.sheet.feed == "force" else "feed_rate"

    @property
    def gullet_area(self) -> float:
        """From the sheet, or the estimate of `sawing` [mm2]."""
        sheet = self.stock.sheet
        return sheet.gullet_area or float(sawing.gullet_area_estimate(sheet.tooth_spacing, sheet.tooth_form))

    def growth(self, E: Numbers) -> Numbers:
        """Growth W of the edge force at wear used E [-]; see `force.edge_growth`."""
        s = self.stock
        return edge_growth(E, s.break_in, s.break_in_wear, s.dulling, s.late_dulling)

    def edge_thrust(self, E: Numbers) -> Numbers:
        """Feed force of an edge with wear used E [N per mm of kerf]."""
        return self.stock.edge_thrust * self.material.kc11 / EDGE_METAL * (1.0 + self.growth(E))

    def edge_force(self, E: Numbers) -> Numbers:
        """Cutting force of an edge with wear used E [N per mm of kerf]."""
        return self.stock.edge_force * self.material.kc11 / EDGE_METAL * (1.0 + self.growth(E))

    def gullet_fill(self, h: Numbers, L: Numbers) -> Numbers:
        """Gullet fill [-] at chip load h [um] in work L [mm]; see `sawing.gullet_fill`."""
        return sawing.gullet_fill(h, L, self.gullet_area)

    def wear_rate(self, V: Numbers, h: Numbers, L: Numbers) -> Numbers:
        """Wear used per contact minute of a typical band [1/min]; see `wear_rate.wear_rate`."""
        law, fill = self.material.law, self.gullet_fill(h, L)
        return self.machine.wear_factor * wear_rate(law, V, h, L, fill, HEAT[self.coolant])

    def chipped_share(self, h: Numbers, L: Numbers) -> Numbers:
        """Share of the wear that is chipped edges [-]."""
        extra = chipping(self.material.law, h, self.gullet_fill(h, L))
        return extra / (1.0 + extra)

    def chip_load_at_force(self, feed_force: Numbers, L: Numbers, E: Numbers) -> Numbers:
        """Chip load [um] at feed force [N] in work L [mm] with wear used E: it thins as the band dulls."""
        thrust = feed_force / sawing.teeth_in_cut(L, self.spacing) / self.stock.sheet.kerf
        m, edge = self.material, self.edge_thrust(E)
        return np.clip(chip_load_at_thrust(thrust, edge, m.thrust_ratio, m.kc11, m.mc), *FORCED_CHIPS)

    def feed_force(self, h: Numbers, L: Numbers, E: Numbers) -> Numbers:
        """Feed force [N] that chip load h [um] takes in work L [mm] with wear used E."""
        m, edge = self.material, self.edge_thrust(E)
        thrust = m.thrust_ratio * chip_force(h, m.kc11, m.mc) + edge
        return thrust * self.stock.sheet.kerf * sawing.teeth_in_cut(L, self.spacing)

    def motor_power(self, V: Numbers, h: Numbers, L: Numbers, E: Numbers) -> Numbers:
        """Motor power above idle [W]: force of the teeth in the cut x V / efficiency, and drive friction."""
        m, sheet = self.material, self.machine.sheet
        tooth = chip_force(h, m.kc11, m.mc) + self.edge_force(E)
        force = tooth * self.stock.sheet.kerf * sawing.teeth_in_cut(L, self.spacing)
        return force * V / 60.0 / sheet.drive_efficiency + self.machine.idle_power * V / 100.0

    def deviation(self, feed_force: Numbers, L: Numbers, E: Numbers) -> Numbers:
        """Deviation [mm]: compliance x feed force x span / 50 mm, growing with uneven wear. Our own form."""
        span = (L + POST_CLEARANCE) / 50.0
        return self.machine.compliance * feed_force / 100.0 * span * (1.0 + self.stock.drift * self.growth(E))

    def roughness(self, h: Numbers, E: Numbers) -> Numbers:
        """Roughness [um], growing with chip load and with the worn edge. Our own form."""
        return 1.5 + 0.12 * h + 0.3 * self.growth(E)

    def bending_life(self) -> float:
        """Characteristic cycles to the break N (e / e0)^-c (Basquin), e = band / wheel, e0 = 1/500 [-]."""
        strain = self.stock.sheet.thickness / self.machine.sheet.wheel_diameter
        return float(self.stock.bending_life * (500.0 * strain) ** -self.stock.bending_exponent)
