"""The draws of a fit against an outside sampler on an independent statement of the model: 4 chains of NUTS.

    python3 -m venv referee && referee/bin/pip install -c toolkit/constraints.txt -e . numpyro
    nice referee/bin/python tests/benchmarks/referee.py [--only WORD ...] [--seed 1] [--far] [--long]

The model is stated again in `referee_model.py`. Chains of NUTS (numpyro; Hoffman and Gelman, JMLR 15, 2014) start
about draws of the fit, thrown three times as far out as those are, with the mass matrix of these draws: both only save
warming up (--far starts from the middle of the priors). They go on until split R-hat is below 1.01 for every parameter
and every band's effects, and the worst of them has 600 effective draws. Told of each study: cuts, bands, parameters; by
how much the two log densities differ beside a constant; of parameters, the largest difference of means in sd and the
least and greatest ratio of sds (the fit's over the referee's), with their names; the same of the band effects; what the
fit says of itself; R-hat and effective draws of the referee; processor seconds of both.

The second line of a fit has the draws of 8 seeds together: a fault of the moves stays in it, chance does not. --long:
where a mean is 0.1 sd off or an sd 10 %, the fit is also drawn once with 400 moves or more of every chain.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path

os.environ.setdefault("XLA_FLAGS", "--xla_cpu_multi_thread_eigen=false intra_op_parallelism_threads=1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import bent_logs
import numpy as np
from bandtrial import wear
from bandtrial.study import open_study
from bandtrial.wear import posterior
from worn_tools import FLEETS, write

try:
    import jax
    import referee_model
    from numpyro.diagnostics import effective_sample_size, split_gelman_rubin
    from numpyro.infer import MCMC, NUTS
except ImportError:
    sys.exit("The referee needs numpyro: make an environment of its own for it (the lines above say how).")

jax.config.update("jax_enable_x64", True)

CHAINS, WARMUP, FIRST, MOST, ENOUGH = 4, 600, 750, 12_000, 600
MEAN_OFF, SD_OFF, SEEDS, THROWN = 0.1, 0.1, 8, 3.0


def real(name, at, share):
    return lambda folder: write(folder, FLEETS[name](), at, share)


STUDIES = {
    "demo": lambda folder: bent_logs.copied(folder),
    "sample": lambda folder: bent_logs.copied(folder, bent_logs.SAMPLE),
    "thin shop": lambda folder: bent_logs.copied(folder, bent_logs.THIN),
    "milling 0 at 25 %": real("milling", 0, 0.25),
    "milling 5 at 50 %": real("milling", 5, 0.5),
    "milling 11 at 75 %": real("milling", 11, 0.75),
    "turning 0 at 25 %": real("turning", 0, 0.25),
    "turning 6 at 50 %": real("turning", 6, 0.5),
    "turning 13 at 75 %": real("turning", 13, 0.75),
    "demo, materials x 4": lambda folder: bent_logs.split(folder, "material", 4),
    "demo, materials x 12": lambda folder: bent_logs.split(folder, "material", 12),
    "demo, machines x 5": lambda folder: bent_logs.split(folder, "machine", 5),
    "demo, noise x 0.1": lambda folder: bent_logs.noisier(folder, 0.1),
    "demo, noise x 3": lambda folder: bent_logs.noisier(folder, 3.0),
    "virtual, set rate": lambda folder: bent_logs.virtual(folder, 1, "strong_chip"),
    "virtual, set force": lambda folder: bent_logs.virtual(folder, 1, "force_feed_thinning"),
    "world 1, set rate": lambda folder: bent_logs.world(folder, 1, "rate"),
    "world 2, set force": lambda folder: bent_logs.world(folder, 2, "force"),
    "world 1, hand feed": lambda folder: bent_logs.world(folder, 1, "hand"),
    "world 2, hand feed": lambda folder: bent_logs.world(folder, 2, "hand"),
}


def nuts(model, fit, seed, far):
    """theta, w and each g as drawn (chains, n, size), on their own scales; worst R-hat, least effective draws."""
    rng = np.random.default_rng(seed)
    known = model.folded(fit)
    width = {name: a.std(axis=0) + 1e-3 for name, a in known.items()}
    starts = [model.middle(rng) if far else model.out(known, THROWN, rng) for _ in range(CHAINS)]
    start = {name: np.stack([one[name] for one in starts]) for name in starts[0] if starts[0][name].size}
    empty = {name: np.zeros(0) for name in starts[0] if name not in start}
    dense = tuple(name for name in ("theta", "spread") if name in start)
    mass = {dense: shrunk(np.concatenate([known[name] for name in dense], axis=1))}
    mass |= {(name,): width[name] ** 2 for name in start if name not in dense}
    kernel = NUTS(
        potential_fn=lambda z: -model.log_density({**z, **empty}),
        dense_mass=[dense],
        inverse_mass_matrix=mass,
        target_accept_prob=0.85,
    )
    chains = MCMC(kernel, num_warmup=WARMUP, num_samples=FIRST, num_chains=CHAINS, chain_method="vectorized",
                  progress_bar=False)  # fmt: skip
    chains.run(jax.random.PRNGKey(seed), init_params=start)
    unfolded = jax.jit(jax.vmap(jax.vmap(lambda z: model.unfolded({**z, **empty}))))
    kept: list = []
    while True:
        theta, w, g = unfolded(chains.get_samples(group_by_chain=True))
        kept.append([np.asarray(a) for a in (theta, w, *g)])
        drawn = [np.concatenate(parts, axis=1) for parts in zip(*kept, strict=True)]
        r_hat = max(float(np.max(split_gelman_rubin(a))) for a in drawn)
        own = min(float(np.min(effective_sample_size(a))) for a in drawn)
        n = drawn[0].shape[1]
        if (r_hat < 1.01 and own > ENOUGH) or n >= MOST:
            return drawn, r_hat, own
        chains.post_warmup_state = chains.last_state
        chains.run(jax.random.PRNGKey(seed + n))


def shrunk(draws):
    """Covariance of draws (n, d), a tenth of it on the diagonal alone."""
    covariance = np.atleast_2d(np.cov(draws.T))
    return 0.9 * covariance + 0.1 * np.diag(covariance.diagonal() + 1e-6)


def compared(ours, theirs, names):
    """(largest difference of means in sd, its name), (least ratio of sds, name), (greatest, name); ours (n, k)."""
    flat = theirs.reshape(-1, theirs.shape[-1])
    sd = flat.std(axis=0)
    off, ratio = (ours.mean(axis=0) - flat.mean(axis=0)) / sd, ours.std(axis=0) / sd
    worst, least, most = np.argmax(np.abs(off)), np.argmin(ratio), np.argmax(ratio)
    return (off[worst], names[worst]), (ratio[least], names[least]), (ratio[most], names[most])


def told(found):
    off, least, most = found
    return f"means {off[0]:+.3f} sd ({off[1]}), sds {least[0]:.2f} ({least[1]}) to {most[0]:.2f} ({most[1]})"


def fails(found):
    return abs(found[0][0]) > MEAN_OFF or found[1][0] < 1 - SD_OFF or found[2][0] > 1 + SD_OFF


def judged(name, folder, args):
    """Print what there is to say of one study; whether it is within the bounds."""
    study = open_study(STUDIES[name](folder))
    began = time.process_time()
    fit = wear.fit(study, seed=args.seed)
    own_seconds = time.process_time() - began
    model = referee_model.Model(fit.density.rows, fit.layout, referee_model.shares_of(fit))
    gap = referee_model.apart(model, fit)
    began = time.process_time()
    drawn, r_hat, effective = nuts(model, fit, args.seed, args.far)
    seconds = time.process_time() - began
    print(f"{name}: {fit.n_cuts} cuts, {fit.n_bands} bands, {len(fit.layout.names)} parameters; densities {gap:.0e} "
          f"apart; referee R-hat {r_hat:.4f}, {effective:.0f} effective of {drawn[0][..., 0].size}, {seconds:.0f} s",
          flush=True)  # fmt: skip
    failed = line("fit", [fit], own_seconds, drawn)
    fits = [fit, *(wear.fit(study, seed=args.seed + i) for i in range(1, SEEDS))]
    line(f"{SEEDS} seeds", fits, own_seconds, drawn)
    if failed and args.long:
        longer(study, drawn, args)
    return not failed and r_hat < 1.01


def line(who, fits, seconds, drawn):
    """Lines of one fit, or of several together; whether their parameters are out of bounds."""
    fit = fits[0]
    found = compared(np.concatenate([one.theta for one in fits]), drawn[0], fit.layout.names)
    print(f"  {who}: {told(found)}; {min(one.drawn.effective for one in fits):.0f} effective, "
          f"{', '.join(sorted({one.trust.grade for one in fits}))}, {fit.drawn.moves} moves, {seconds:.2f} s"
          f"{'  OUT' if fails(found) else ''}")  # fmt: skip
    beside = np.concatenate([np.concatenate(list(np.moveaxis(one.drawn.beside, 2, 0)), axis=1) for one in fits])
    names = [f"{kind} {band}" for kind in ("w", *fit.signals) for band in fit.rows.bands]
    print(f"    bands: {told(compared(beside, np.concatenate(drawn[1:], axis=2), names))}", flush=True)
    return fails(found)


def longer(study, drawn, args):
    """The fit once more, with 400 moves or more of each chain."""
    kept = posterior.LEAST, posterior.ENOUGH, posterior.ENOUGH_OF_ALL
    posterior.LEAST, posterior.ENOUGH, posterior.ENOUGH_OF_ALL = 400, 8000, 2000
    try:
        began = time.process_time()
        fit = wear.fit(study, draws=20_000, seed=args.seed + 100)
        line("400 moves", [fit], time.process_time() - began, drawn)
    finally:
        posterior.LEAST, posterior.ENOUGH, posterior.ENOUGH_OF_ALL = kept


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--only", nargs="+", default=[""], help="studies whose name holds one of these words")
    parser.add_argument("--seed", type=int, default=1, help="seed of the fit and of the referee")
    parser.add_argument("--far", action="store_true", help="start the referee from the middle of the priors")
    parser.add_argument("--long", action="store_true", help="draw longer where out of bounds")
    args = parser.parse_args()
    names = list(dict.fromkeys(name for word in args.only for name in STUDIES if word in name))
    with tempfile.TemporaryDirectory() as home:
        within = [judged(name, Path(home) / str(i), args) for i, name in enumerate(names)]
    print(f"{sum(within)} of {len(names)} studies: means within {MEAN_OFF} sd and sds within {SD_OFF:.0%} of a referee "
          "whose chains agree")  # fmt: skip


if __name__ == "__main__":
    main()
