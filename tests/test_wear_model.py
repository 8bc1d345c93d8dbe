"""The model against a slow, obvious twin of itself, and its slopes against differences."""

import sys
from dataclasses import replace
from pathlib import Path

import known_shop
import numpy as np
import pandas as pd
import pytest
from scipy import integrate, stats

sys.path.insert(0, str(Path(__file__).parent / "benchmarks"))
from bandtrial.wear import mapping, posterior, top
from bandtrial.wear.bands import band_scores
from bandtrial.wear.curvature import chunks, curvature
from bandtrial.wear.density import Density
from bandtrial.wear.design import Design
from bandtrial.wear.fitting import fit_rows
from bandtrial.wear.rows import from_tables, rounding
from bandtrial.wear.signals import BY_NAME
from bandtrial.wear.terms import BENDS, GROWTH, NU, WEAR_END, Adds, Leaves
from prior_shops import shop


@pytest.fixture(scope="module", params=["rate", "force"])
def small(request):
    """Rows with rounded readings, of which some count for less than one; layout, parameters, band effects."""
    rows, layout, theta, w = shop(3, n_bands=5, feed=request.param)
    rows = replace(rows, signals=tuple(replace(s, rounding=0.04, weight=0.7) for s in rows.signals))
    rng = np.random.default_rng(1)
    return rows, layout, theta, w, [0.1 * rng.standard_normal(5) for _ in rows.signals]


def slow_log_density(rows, layout, theta, w, g):
    """Each band's log density by loops and scipy.stats: the twin."""
    feed = "force" if "chip_load.level" in layout.names else "rate"
    p = dict(zip(layout.names, theta, strict=True))
    coefficient = [np.exp(v) if pr.positive else v for v, pr in zip(theta, layout.priors, strict=True)]
    coefficient = np.array(coefficient)[layout.eta]
    X = rows.X.dense()
    k = np.exp(p["weibull_shape"])
    K, s_w, e = k / (1 + (k / 20) ** 3) ** (1 / 3), np.exp(p["band_scatter"]), np.exp(p["break_in_length"])
    out = []
    for b, band in enumerate(rows.bands):
        cuts = [i for i in range(len(rows.contact)) if rows.band[i] == b]
        E, at_cut = 0.0, {}
        for i in cuts:
            tau = np.exp(X[i] @ coefficient)
            step = np.exp(w[b]) * rows.contact[i] / tau
            at_cut[i] = E + step * (1 - rows.left[i])
            E += step
        total = stats.norm.logpdf(w[b], 0, s_w)
        if rows.worn[b]:
            total += stats.weibull_min.logpdf(E, K) + w[b] - np.log(tau)
        else:
            total += stats.weibull_min.logsf(E, K)
        for s, block, g_s in zip(rows.signals, layout.blocks, g, strict=True):
            total += stats.norm.logpdf(g_s[b], 0, np.exp(p[f"{s.name}.band"]))
            j, k, power = (np.exp(p[f"{s.name}.{name}"]) for name in ("break_in", "dulling", "growth_power"))
            for row, y, x in zip(s.rows, s.y, s.X.dense(), strict=True):
                if rows.band[row] == b:
                    wear_used = at_cut[row]
                    dull = j * (1 - np.exp(-wear_used / e)) + k * wear_used**power
                    by = BY_NAME[s.name].shares
                    if by and by[0] == feed:
                        ratio = np.exp(x[s.X.columns.index(f"power[{by[1]}]")])
                        dull *= ratio ** p[f"{s.name}.dulling[{by[1]}]"]
                    grown = np.log(1 + dull)
                    if BY_NAME[s.name].inverse:
                        grown = np.arcsinh(0.5) - np.arcsinh(0.5 - dull * np.sqrt(1.25))
                    mean = x @ theta[block.beta] + g_s[b] + grown
                    scale = np.hypot(np.exp(p[f"{s.name}.noise"]), s.rounding)
                    total += s.weight * stats.t.logpdf(y, NU, mean, scale)
        assert band == f"B{b}"
        out.append(total)
    return out


def test_the_likelihood_equals_its_slow_twin(small):
    """Band by band, and in all with the priors. Rounding alone: 1e-10 relative over a few hundred terms."""
    rows, layout, theta, w, g = small
    density, slow = Density(rows, layout), slow_log_density(*small)
    wide = theta[:, None], w[:, None], [a[:, None] for a in g]
    assert band_scores(density, *wide).value[:, 0] == pytest.approx(slow, rel=1e-10)
    whole = density.value(*wide)[0] - density.log_prior(theta[:, None], np.zeros((len(theta), 1)))[0]
    assert whole == pytest.approx(sum(slow), rel=1e-10)


def test_bounded_noise_is_hubers(small):
    """Beside scipy.special.huber, which is the loss without its scale; the slope by `test_all_slopes_at_once...`."""
    from bandtrial.wear.terms import BOUNDED, bounded_noise
    from scipy.special import huber

    rest, scale = np.linspace(-9, 9, 61)[:, None], np.array([0.3, 2.0])
    value, pull = bounded_noise(rest, scale)
    assert value == pytest.approx(-huber(BOUNDED, rest / scale) - np.log(scale), rel=1e-12)
    assert np.abs(pull).max() == pytest.approx(BOUNDED / scale.min(), rel=1e-12)


def differences(function, x, step=1e-5):
    """Central differences of function(x (D, N)) -> (N,) at x (D,)."""
    shifts = step * np.eye(len(x))
    return (function(x[:, None] + shifts) - function(x[:, None] - shifts)) / (2 * step)


def test_all_slopes_at_once_against_differences(small):
    """With every parameter and every band effect; central differences of 1e-5 leave some 1e-8 of a slope's size."""
    rows, layout, theta, w, g = small
    for density in (Density(rows, layout), Density(rows, layout).bounded()):
        hold_to_differences(density, theta, w, g)


def hold_to_differences(density, theta, w, g):
    """All slopes of a density at one point."""
    d, m = len(theta), len(w)
    x = np.concatenate([theta, w, *g])

    def parts(x):
        return x[:d], x[d : d + m], [x[d + (1 + i) * m : d + (2 + i) * m] for i in range(len(g))]

    numeric = differences(lambda x: density.value(*parts(x)), x)
    _, by_theta, by_w, by_g = density.value_and_slopes(*parts(x[:, None]))
    exact = np.concatenate([by_theta, by_w, *by_g])[:, 0]
    assert np.max(np.abs(numeric - exact) / (1 + np.abs(exact))) < 1e-6


@pytest.mark.parametrize("term", [GROWTH, Adds(), Leaves(), WEAR_END], ids=lambda t: type(t).__name__)
def test_every_term_s_slopes_against_differences(term):
    """Each parameter of each term on its working scale, and what it works on. 1e-5 leaves 1e-9."""
    rng = np.random.default_rng(0)
    x = rng.normal(0, 0.4, 7)
    if term is GROWTH:
        start = np.array([-1.5, -0.5, 0.3, -2.5, -0.7, -0.4])  # logs of j, k, p, e; d; log E

        def value(t):
            values = [np.exp(v) if p.positive else v for v, p in zip(t[:5], GROWTH.parameters, strict=True)]
            return GROWTH.rise(values, np.broadcast_to(t[5], (7, t.shape[1])), x)

        _, by_log_E, slopes = value(start[:, None])
        exact = [*(np.broadcast_to(s, (7, 1))[0, 0] for s in slopes), by_log_E[0, 0]]
        numeric = differences(lambda t: value(t)[0][0], start)
    elif term is WEAR_END:
        start = np.array([np.log(3.2), -0.2])

        def value(t):
            K, by_shape = WEAR_END.shape(t[0])
            out = WEAR_END.log_density(K, t[1:2], np.array([[0.3]]), np.array([[1.0]]))
            return out[0][0], out[1][0], out[2][0] * by_shape

        _, by_log_E, by_shape = value(start[:, None])
        exact, numeric = [by_shape[0], by_log_E[0]], differences(lambda t: value(t)[0], start)
        numeric = numeric - [0.0, 0.0]
    else:
        start = np.array([0.7])
        exact = [term.rise([], start[:, None])[1][0, 0]]
        numeric = differences(lambda t: term.rise([], t)[0][0], start)
    assert numeric == pytest.approx(exact, rel=1e-7)


def test_how_the_log_of_a_signal_rises():
    """From 0, at first as the edge's growth itself; the slope is that of the law, as scipy integrates it."""
    for law in (Adds(), Leaves()):
        for u in (1e-6, 0.3, 5.0):
            rise = law.rise([], np.array([[u]]))[0][0, 0]
            area = integrate.quad(lambda v, law=law: law.rise([], np.array([[v]]))[1][0, 0], 0, u)[0]
            assert rise == pytest.approx(area, rel=1e-8)
        assert law.rise([], np.array([[1e-9]]))[0][0, 0] == pytest.approx(1e-9, rel=1e-5)


def test_bends_are_straight_far_from_their_place_and_nothing_before():
    for bend in BENDS:
        far, before = bend.at + bend.side * 1.5, bend.at - bend.side * 1.5
        speed, chip = (
            (np.array([far, before]), np.zeros(2)) if bend.of == "speed" else (np.zeros(2), np.array([far, before]))
        )
        assert bend.column(speed, chip) == pytest.approx([1.5, 0.0], abs=1e-4)  # e^-10 of 0.15


@pytest.mark.parametrize("seed", [3, 4, 6])
def test_the_map_s_volume_and_slopes(seed):
    """The map from a normal law: slopes of log density and log volume against differences, and the volume against the
    determinant of the map's own differences."""
    rows, layout, *_ = shop(seed, n_bands=4, cuts=(8, 12))
    density = Density(rows, layout)
    with np.errstate(all="ignore"):
        target = posterior.Target(density, mapping.Map(top.climb(density, layout.mean.copy()), density))
    z = 0.3 * np.random.default_rng(seed).standard_normal(target.map.size)
    assert target(z[:, None])[1][:, 0] == pytest.approx(differences(lambda x: target(x)[0], z), rel=1e-5, abs=1e-5)

    def placed(x):
        at = target.map.place(x)
        return np.concatenate([at.theta, at.w, *density.levels(at.theta, at.w, at.levels)])

    shifts = 1e-5 * np.eye(len(z))
    jacobian = (placed(z[:, None] + shifts) - placed(z[:, None] - shifts)) / 2e-5
    here = placed(z[:, None])
    m, d = density.n_bands, len(layout.mean)
    raw = density.value(here[:d], here[d : d + m], np.split(here[d + m :], len(rows.signals)))
    constant = sum(np.linalg.slogdet(root)[1] for root in (target.map.root, target.map.root_u))
    constant += np.log(target.map.sd_first).sum()
    assert target(z[:, None])[0] - raw == pytest.approx(np.linalg.slogdet(jacobian)[1] - constant, rel=1e-6)


def test_curvature_is_that_of_the_density_where_nothing_is_left_over():
    """Readings put on their means and bands still sound with little wear: the expected curvature is then the
    t law's own times (1 + 1/NU) / ((NU + 1)/(NU + 3)), so the ratio of second differences along the signals' levels is
    known."""
    rows, layout, theta, w = shop(5, n_bands=4, cuts=(8, 12))
    g = [np.zeros(4) for _ in rows.signals]
    density = Density(rows, layout)
    exact = [
        density.at_readings(i, theta[:, None], w[:, None], [a[:, None] for a in g][i])[0][:, 0]
        for i in range(len(rows.signals))
    ]
    density = Density(
        replace(rows, signals=tuple(replace(s, y=y) for s, y in zip(rows.signals, exact, strict=True))), layout
    )
    A = curvature(density, theta, w).A
    for block in layout.blocks:
        at = block.beta.start
        step = 1e-4 * (np.arange(len(theta)) == at)[:, None]
        wide = w[:, None], [a[:, None] for a in g]
        second = (
            density.value(theta[:, None] + step, *wide)
            + density.value(theta[:, None] - step, *wide)
            - 2 * density.value(theta[:, None], *wide)
        )[0] / 1e-8
        own = 1 / layout.sd[at] ** 2
        assert (A[at, at] - own) / (-second - own) == pytest.approx((NU + 1) / (NU + 3) / (1 + 1 / NU), rel=1e-3)


def test_chunks_cover_every_band_once_whatever_the_groups():
    rows, *_ = shop(5, n_bands=9)
    many = replace(
        rows,
        X=replace(
            rows.X, groups=(tuple(f"m{i}" for i in range(300)),), codes=(np.zeros(len(rows.contact), int),), _kept={}
        ),
    )
    for r in (rows, many):
        covered = [b for part in chunks(r) for b in range(part.start, part.stop)]
        assert covered == list(range(9))


def test_a_design_of_many_groups_multiplies_as_its_matrix():
    rng = np.random.default_rng(2)
    names = tuple(f"g{i}" for i in range(90))
    X = Design(rng.standard_normal((50, 3)), ("a", "b", "c"), (names,), (rng.integers(-1, 90, 50),))
    assert X._all is None
    c, v = rng.standard_normal((93, 4)), rng.standard_normal((50, 4))
    assert X.times(c) == pytest.approx(X.dense() @ c, rel=1e-12, abs=1e-12)
    assert X.transposed(v) == pytest.approx(X.dense().T @ v, rel=1e-12, abs=1e-12)
    columns = X.occurring(slice(10, 20))
    assert X.dense(slice(10, 20), columns) == pytest.approx(X.dense()[10:20][:, columns])


@pytest.mark.parametrize(
    ("readings", "sd"),
    [
        ([0.01] * 5, 1 / 12**0.5),  # all alike: nothing is known between a half and one and a half of it
        ([0.02, 0.04, 0.06, 0.02, 0.04], 0.02 / 0.04 / 12**0.5),
        ([400.0, 611.25, 400.5], 0.5 / 400.5 / 12**0.5),
    ],
)
def test_what_rounding_adds(readings, sd):
    """The sd of an even law over one step is step / 12^(1/2) (JCGM 100:2008, 4.3.7 and F.2.2.1); from memory."""
    assert rounding(np.array(readings)) == pytest.approx(sd, rel=1e-12)


def test_a_tooth_of_thrice_the_kerf_is_the_same_tooth():
    """Forces grow with kerf and metal, and what a dull edge takes is a share of them: the law sees them over the force
    that gives a usual chip, so that thrice the force for the same chips leaves every design as it was."""
    cuts = known_shop.cuts(feed="force")
    bands = pd.DataFrame({"band": ["B1", "B2", "B3"], "end": "in_service"})
    light, heavy = (
        from_tables(
            cuts.assign(feed_force=factor * cuts["feed_force"]), bands, {"s8": "bimetal"}, [BY_NAME["chip_load"]]
        )
        for factor in (1.0, 3.0)
    )
    (one,), (other,) = light[0].signals, heavy[0].signals
    np.testing.assert_allclose(other.X.dense(), one.X.dense(), rtol=1e-12)
    np.testing.assert_allclose(other.share, one.share, rtol=0, atol=1e-12)
    # h = 10 um (F / 5 N)^1.2 (known_shop): 10 um at 5 N per tooth
    assert light[0].force_ref["plate"] == pytest.approx(known_shop.FORCE_REF, rel=1e-9)
    assert heavy[0].force_ref["plate"] == pytest.approx(3 * known_shop.FORCE_REF, rel=1e-9)


def test_the_same_seed_gives_the_same_draws_and_another_nearly_the_same_answer(small):
    """Means of two seeds agree within 4.5 of their own standard errors (of 35 parameters, the worst)."""
    rows = small[0]
    a, b = (fit_rows(rows, draws=500, seed=5).drawn for _ in range(2))
    assert np.array_equal(a.theta, b.theta)
    c = fit_rows(rows, draws=500, seed=6).drawn
    apart = np.abs(a.theta.mean(axis=0) - c.theta.mean(axis=0))
    assert np.all(apart < 4.5 * np.hypot(a.errors, c.errors) + 0.2 * a.theta.std(axis=0))
