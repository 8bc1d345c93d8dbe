"""What hangs on the priors: reweighting against the exact normal posterior, prior lives by their moments, in words."""

import json
from pathlib import Path

import numpy as np
import pytest
from bandtrial import __main__ as command
from bandtrial import study, wear
from bandtrial.wear.layout import prior
from bandtrial.wear.sensitivity import Move, PriorSensitivity, lives_by_priors, prior_sensitivity, weights

SAMPLE = Path(__file__).parent / "data" / "sample_study"


@pytest.mark.parametrize("factor", [0.5, 2.0])
def test_reweighted_draws_are_those_of_the_other_prior(factor):
    """Conjugate: prior N(1, 0.8^2), a reading 2.5 with sd 0.6; the posterior has precision 1/(f 0.8)^2 + 1/0.6^2
    (Gelman et al., Bayesian Data Analysis, 2.5). 40,000 draws, 10,000 effective at least: 2 % of an sd, 2 % of it."""

    def posterior(f):
        precision = 1 / (f * 0.8) ** 2 + 1 / 0.6**2
        return (1.0 / (f * 0.8) ** 2 + 2.5 / 0.6**2) / precision, precision**-0.5

    mean, sd = posterior(1.0)
    draws = mean + sd * np.random.default_rng(1).standard_normal(40_000)
    w, effective = weights(draws, 1.0, 0.8, factor)
    new_mean, new_sd = posterior(factor)
    assert w.sum() == pytest.approx(1.0) and effective > 10_000
    assert w @ draws == pytest.approx(new_mean, abs=0.03 * new_sd)
    assert np.sqrt(w @ (draws - w @ draws) ** 2) == pytest.approx(new_sd, rel=0.03)


def test_draws_that_can_t_tell_are_worth_nothing():
    far = 6.0 + 0.9 * np.random.default_rng(2).standard_normal(2000)  # a posterior far out, near as wide as its prior
    assert weights(far, 0.0, 1.0, 2.0)[1] < 100


def test_lives_by_the_priors_have_the_moments_of_their_parts():
    """Mean and variance of the log: those of each part; of log(-log U), the Gumbel law: -0.5772 and pi^2/6
    (NIST/SEMATECH e-Handbook 1.3.6.6.16). 200,000 draws: a mean to 0.01; a variance to 2 %."""
    log = np.log(lives_by_priors(50.0, 4000.0, np.random.default_rng(3), n=200_000))
    scale, thick = prior("log_scale", positive=True), prior("thickness_exponent")
    shape = prior("weibull_shape", positive=True)
    inverse, squared = (np.exp(-k * shape.mean + k**2 * shape.sd**2 / 2) for k in (1, 2))  # E 1/K, E 1/K^2
    mean = scale.mean - thick.mean * np.log(2.0) - 0.57722 * inverse + np.log(4000 / 50)
    spreads = [prior("spread", kind, positive=True) for kind in ("material", "machine", "stock")]
    spreads.append(prior("band_scatter", positive=True))
    variance = scale.sd**2 + (thick.sd * np.log(2.0)) ** 2 + sum(np.exp(2 * p.mean + 2 * p.sd**2) for p in spreads)
    variance += np.pi**2 / 6 * squared + 0.57722**2 * (squared - inverse**2)
    assert log.mean() == pytest.approx(mean, abs=0.01)
    assert log.var() == pytest.approx(variance, rel=0.02)


def test_moves_in_words():
    move = Move("weibull_shape", 0.5, "the life of a typical band [min]", 20.0, 34.0, 50.0, 22.0, 38.0, 60.0, 900.0)
    assert str(PriorSensitivity((move,), (("speed_bend[fast]", 2.0),), 12, "55 m/min")) == (
        "12 priors, each half and twice as wide; answers at 55 m/min.\n"
        "Were the prior of weibull_shape half as wide, the life of a typical band [min] would be 38 (22 to 60) instead "
        "of 34 (20 to 50).\n"
        "Too few draws are left to tell what another prior would do: speed_bend[fast] twice as wide."
    )
    assert str(PriorSensitivity((), (), 12, "55 m/min")).endswith(
        "No answer would move by more than a quarter of its doubt."
    )


def test_sensitivity_of_a_study_is_told_only_where_draws_can_tell():
    whole = wear.fit(study.open_study(SAMPLE), draws=1000)
    found = prior_sensitivity(whole)
    assert found.checked > 20 and all(move.effective >= 100 for move in found.moves)
    assert {move.parameter for move in found.moves} <= set(whole.layout.names)
    for move in found.moves:
        assert move.low < move.middle < move.high and move.new_low < move.new_middle < move.new_high
    with pytest.raises(ValueError, match="A fit without priors has none that could be wider or narrower"):
        prior_sensitivity(wear.fit(study.open_study(SAMPLE), priors=False))


def test_command_says_what_the_priors_expect(capsys):
    assert command.main(["fit", str(SAMPLE), "--prior-predictive"]) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[0].startswith("With these priors we would expect a band of s8 on saw1 to last ")
    assert said[-1] == "If that is absurd for your shop, the priors do not fit it: say so."
    assert command.main(["fit", str(SAMPLE), "--prior-predictive", "--json"]) == 0
    life = json.loads(capsys.readouterr().out)["lives"][0]
    assert life["low"] < life["middle"] < life["high"]
    assert command.main(["fit", str(SAMPLE), "--prior-predictive", "--no-priors"]) == 2
    assert capsys.readouterr().err == "bandtrial fit: --no-priors leaves no prior to look at; leave it out\n"
