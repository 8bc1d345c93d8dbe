"""A shop and a posterior that are known exactly, for tests of what stands on them: no files, no fitting."""

from dataclasses import dataclass, replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
from bandtrial import published, sawing
from bandtrial.wear.trust import Trust

GROUP = "austenitic stainless steel"
L, TPI, BAND_LENGTH = 20.0, 8.0, 4000.0
STAR = published.band_speed(GROUP, L, "bimetal", "flood")
H_REF, FORCE_REF, L_REF = 10.0, 5.0, 20.0


@dataclass(frozen=True)
class KnownFit:
    """Draws of log tau = a0 - m x - q x^2 - a y - r y^2 - 0.2 z; x, y, z logs of V/V*, h/10 um, L/20 mm."""

    a0: np.ndarray
    m: np.ndarray
    q: np.ndarray
    a: np.ndarray
    r: np.ndarray
    weibull_shape: np.ndarray
    band_scatter: np.ndarray
    break_scale: np.ndarray
    break_shape: np.ndarray
    data: pd.DataFrame
    signals: tuple = ("motor_power", "deviation")
    dulling: float = 0.8
    noise: float = 0.05
    level: float = 0.03
    diagnostics: dict = None
    residuals: pd.DataFrame = None
    rates: np.ndarray = None
    used: np.ndarray = None
    trust: Trust = Trust("good", (), ())  # noqa: RUF009 - frozen

    @property
    def n_draws(self):
        return len(self.a0)

    def thinned(self, n):
        take = np.unique(np.linspace(0, self.n_draws - 1, min(n, self.n_draws)).round().astype(int))
        return replace(
            self,
            **{
                k: getattr(self, k)[take]
                for k in (
                    "a0",
                    "m",
                    "q",
                    "a",
                    "r",
                    "weibull_shape",
                    "band_scatter",
                    "break_scale",
                    "break_shape",
                    "rates",
                    "used",
                )
                if getattr(self, k) is not None
            },
        )

    def reading_scatter(self, name):
        return np.full(self.n_draws, self.noise), np.full(self.n_draws, self.level), 1.0

    def wear_used(self):
        return pd.DataFrame({"band": [f"B{i + 1}" for i in range(self.used.shape[1])]})

    @property
    def wear_used_draws(self):
        return self.used

    @property
    def band_rate_draws(self):
        return self.rates

    def beyond(self, band_speed, chip_load, *_):
        return 0.0

    def log_tau(
        self,
        band_speed,
        chip_load,
        work_thickness,
        material,
        machine,
        stock,
        coolant="flood",
        beyond=True,
        missed=True,
    ):
        x, y, z = (
            np.log(np.asarray(v, float) / ref)[None]
            for v, ref in ((band_speed, STAR), (chip_load, H_REF), (work_thickness, L_REF))
        )
        c = {k: getattr(self, k)[:, None] for k in "mqar"} | {"a0": self.a0[:, None]}
        return c["a0"] - c["m"] * x - c["q"] * x**2 - c["a"] * y - c["r"] * y**2 - 0.2 * z

    def chip_load_at_force(self, feed_force, band_speed, work_thickness, material, machine, stock, wear_used=0.0):
        per_tooth = np.asarray(feed_force, float) / (work_thickness / (25.4 / TPI))
        h = H_REF * (per_tooth / FORCE_REF) ** 1.2 / (1 + self.dulling * wear_used)
        return np.broadcast_to(h, (self.n_draws, *np.broadcast_shapes(np.shape(h), np.shape(band_speed)))).copy()

    def signal(self, name, band_speed, chip_load, work_thickness, material, machine, stock, wear_used=0.0):
        V, h, E = (np.asarray(v, float) for v in (band_speed, chip_load, wear_used))
        level = 300.0 * V / STAR * (h / H_REF) ** 0.8 if name == "motor_power" else 0.05 * (h / H_REF) ** 0.5 + 0 * V
        growth = self.dulling if name == "motor_power" else 2.0
        return np.broadcast_to(level * (1 + growth * E), (self.n_draws, *np.broadcast_shapes(V.shape, h.shape))).copy()


def machine(id="saw1", feed="rate", ranges=((10.0, 40.0), (45.0, 150.0)), **kw):
    """A machine whose dial shows 4 % more than the band runs."""
    fields = {
        "id": id,
        "kind": "vertical",
        "feed": feed,
        "band_speed_ranges": list(ranges),
        "wheel_diameter": 600.0,
        "band_length": BAND_LENGTH,
        "motor_power": 1500.0,
        "drive_efficiency": 0.8,
        "throat": 600.0,
        "feed_rate_range": None,
        "feed_force_range": None,
        "speed_check": [],
        "levels": (),
        "true_speed": lambda v: 0.96 * np.asarray(v, float),
        "indicated_speed": lambda v: np.asarray(v, float) / 0.96,
    }
    return SimpleNamespace(**(fields | kw))


def stock(id="s8", price=48.0, **kw):
    fields = {
        "id": id,
        "pitch_tpi": TPI,
        "pitch": f"{TPI:g} tpi",
        "tooth_spacing": 25.4 / TPI,
        "tooth_form": "regular",
        "set": "raker",
        "edge": "bimetal",
        "width": 19.0,
        "thickness": 0.9,
        "kerf": 1.1,
        "gullet_area": 2.4,
        "price": price,
        "levels": (),
    }
    return SimpleNamespace(**(fields | kw))


def cuts(n=24, feed="rate", speeds=(0.8, 1.25), bites=None, material="plate", machine="saw1", seed=1):
    """n trial cuts on three bands over speeds (shares of V*) and chip loads [um] or forces per tooth [N]."""
    rng = np.random.default_rng(seed)
    bites = bites or ((3.0, 8.0) if feed == "force" else (7.0, 16.0))
    V = STAR * np.exp(rng.uniform(*np.log(speeds), n))
    bite = np.exp(rng.uniform(*np.log(bites), n))
    p, force = 25.4 / TPI, feed == "force"
    h = H_REF * (bite / FORCE_REF) ** 1.2 if force else bite
    F = sawing.feed_rate(V, h, p)
    return pd.DataFrame(
        {
            "cut": np.arange(1, n + 1),
            "operation": "sawing",
            "machine": machine,
            "stock": "s8",
            "material": material,
            "band": [f"B{1 + i * 3 // n}" for i in range(n)],
            "feed_mode": feed,
            "indicated_band_speed": V / 0.96,
            "band_speed": V,
            "published_band_speed": STAR,
            "work_thickness": L,
            "cut_travel": 150.0,
            "cut_area": L * 1.5,
            "feed_rate": F,
            "set_feed_rate": F,
            "feed_force": bite * L / p if force else np.nan,
            "cut_time": 150.0 / F,
            "pieces": 1,
            "coolant": "flood",
            "complete": True,
            "exclude": "",
            "chip_load": h,
            "teeth_in_cut": L / p,
            "contact_minutes": 150.0 / F * L / BAND_LENGTH,
            "band_length": BAND_LENGTH,
        }
    )


def study(feed="rate", ends=("dull", "removed_sound", "in_service"), units="metric", costs=None, **kw):
    """The study around `cuts`."""
    bands = pd.DataFrame(
        {"band": [f"B{i + 1}" for i in range(len(ends))], "stock": "s8", "machine": "saw1", "end": ends}
    )
    costs = {"machine_and_labor_per_hour": 72.0, "band_change_minutes": 12.0, "scrapped_piece": 35.0} | (costs or {})
    return SimpleNamespace(
        machines={"saw1": machine(feed=feed, **kw)},
        band_stock={"s8": stock()},
        units=units,
        currency="EUR",
        costs=costs,
        bands=bands,
        problems=[],
        path=".",
        materials={
            "plate": SimpleNamespace(
                id="plate", name="plate", group=GROUP, hardness=None, deviation_at_most=None, pieces_per_month=None
            )
        },
    )


def fit(feed="rate", sure=0.15, n=1000, seed=2, life=20.0, breaks=3e6, data=None, **kw):
    """Posterior draws about a known truth; `sure` is the sd of log life, 0 makes every draw the truth."""
    rng = np.random.default_rng(seed)

    def about(value, sd):
        return value + sd * rng.standard_normal(n)

    table = cuts(feed=feed) if data is None else data
    kw = {
        "residuals": pd.DataFrame({"signal": [], "observed": [], "predicted": []}),
        "rates": np.zeros((n, 3)),
        "used": np.full((n, 3), [1.0, 0.4, 0.1]),
    } | kw
    return KnownFit(
        about(np.log(life), sure),
        about(6.0, 3 * sure),
        about(1.0, 2 * sure),
        about(0.8, sure),
        about(0.4, sure),
        np.full(n, 3.0),
        np.full(n, 0.15),
        np.full(n, float(breaks)),
        np.full(n, 2.0),
        table,
        diagnostics={},
        **kw,
    )
