"""The levels against long NUTS runs of the same model: means, standard deviations, time.

    pip install -e '.[reference]' && python tests/benchmark/levels_nuts.py [--persons 30] [--freeze]

Persons are drawn from the model itself, with few and many treatments, one to three bands, precise and noisy
measurements. `--freeze` writes the reference numbers that the ordinary tests check against.
"""

import argparse
import json
import sys
import time
from pathlib import Path

import jax
import jax.numpy as jnp
import numpy as np
import numpyro
import numpyro.distributions as dist
from numpyro.diagnostics import effective_sample_size
from numpyro.infer import MCMC, NUTS, init_to_median

from gramrise.estimate.levels.band_levels import level_model, levels_at
from gramrise.estimate.levels.evidence import Evidence
from gramrise.estimate.levels.scatter import scatter_scale
from gramrise.estimate.levels.smoothing import smoothed_history
from gramrise.estimate.settings import shipped

# Settings that make the model, as against how finely it is computed.
OF_THE_MODEL = (
    "person_sd_log",
    "band_sd_log",
    "event_sd_log",
    "event_sd_spread_log",
    "event_degrees_of_freedom",
    "walk_sd_log_per_week",
    "walk_spread_log",
    "path_bias_sd_mg_dl",
)
# The shipped settings do not ask for a path bias; the long runs have one, so that its computation stays checked.
PATH_BIAS_NODES = 3
FROZEN = Path(__file__).parents[1] / "outside" / "levels_nuts.json"
WEEKS, BANDS = 52, 3
SIZES = (12, 40, 120)
CHAINS, WARM_UP, DRAWS = 4, 500, 1100
LEAST_ESS, MEAN_WITHIN_SD, SD_WITHIN_PART, TIMES_FASTER = 1000, 0.1, 0.10, 500


def drawn_person(seed, settings):
    """One person's evidence from the model; measurements from precise to noisy."""
    rng = np.random.default_rng(1000 + seed)
    bands_n = 1 + seed % BANDS
    n = int(np.exp(rng.uniform(np.log(3), np.log(SIZES[-1]))))
    spread = np.hypot(settings.person_sd_log, settings.band_sd_log)
    keeps = np.sqrt(1 - settings.walk_sd_log_per_week**2 / spread**2)
    prior = settings.person_sd_log**2 + settings.band_sd_log**2 * np.eye(bands_n)
    root = np.linalg.cholesky(prior)
    level = [root @ rng.normal(size=bands_n)]
    for _ in range(WEEKS - 1):
        level.append(keeps * level[-1] + np.sqrt(1 - keeps**2) * root @ rng.normal(size=bands_n))
    week, band = np.sort(rng.integers(0, WEEKS, n)), rng.integers(0, bands_n, n)
    scale = scatter_scale(np.array(settings.event_sd_log), settings.event_degrees_of_freedom)
    own = np.exp(np.array(level)[week, band] + scale * rng.standard_t(settings.event_degrees_of_freedom, n))
    sd, per_mg_dl = rng.uniform(0.08, 0.6, n), 1 / (rng.choice([4.0, 8.0, 12.0, 16.0], n) * rng.uniform(4, 10))
    bias = settings.path_bias_sd_mg_dl * rng.normal()
    ratio = own + bias * per_mg_dl + sd * rng.normal(size=n)
    return bands_n, Evidence(ratio, sd, per_mg_dl, band, week, np.zeros(n, dtype=np.int64))


def model(ratio, ratio_sd, per_mg_dl, band, period, counts, gaps):
    """The same model as `gramrise.estimate.levels.smoothing`, all sampled; rows are padded, `counts` marks real ones.

    gaps  [periods] weeks since the period before; the first and padding 0. The last period is now.
    """
    settings = shipped().levels
    event_z = numpyro.sample("event_z", dist.Normal())
    walk_z = numpyro.sample("walk_z", dist.TruncatedNormal(low=-LIMIT, high=LIMIT))
    bias = settings.path_bias_sd_mg_dl * numpyro.sample("bias_z", dist.Normal())
    event_sd = settings.event_sd_log * jnp.exp(settings.event_sd_spread_log * event_z)
    walk_sd = settings.walk_sd_log_per_week * jnp.exp(settings.walk_spread_log * walk_z)
    variance = settings.person_sd_log**2 + settings.band_sd_log**2
    keeps = (1 - walk_sd**2 / variance) ** (gaps / 2)
    fresh = jnp.where(gaps > 0, jnp.sqrt(jnp.where(gaps > 0, 1 - keeps**2, 1.0)), 0.0)
    person_z = numpyro.sample("person_z", dist.Normal(jnp.zeros(len(gaps)), 1))
    band_z = numpyro.sample("band_z", dist.Normal(jnp.zeros((len(gaps), BANDS)), 1))
    steps = settings.person_sd_log * person_z[:, None] + settings.band_sd_log * band_z

    def next_period(before, move):
        now = move[0] * before + move[1] * move[2]
        return now, now

    _, later = jax.lax.scan(next_period, steps[0], (keeps[1:], fresh[1:], steps[1:]))
    levels = jnp.concatenate([steps[:1], later])
    numpyro.deterministic("now", levels[-1])
    freedom = settings.event_degrees_of_freedom
    scale = event_sd * np.sqrt((freedom - 2) / freedom)
    own_z = numpyro.sample("own_z", dist.StudentT(freedom, jnp.zeros(len(ratio)), 1))
    own = jnp.exp(levels[period, band] + scale * own_z)
    numpyro.factor("seen", jnp.sum(counts * dist.Normal(own + bias * per_mg_dl, ratio_sd).log_prob(ratio)))


def padded(evidence):
    """Arrays of one of few lengths, so that compiling is seldom; only weeks that hold treatments, and now."""
    n = len(evidence)
    size = next(size for size in SIZES if n <= size)
    pad = (0, size - n)
    weeks, period = np.unique(evidence.week, return_inverse=True)
    gaps = np.zeros(min(size, WEEKS) + 1)
    gaps[1 : len(weeks)] = np.diff(weeks)
    gaps[-1] = WEEKS - 1 - weeks[-1]
    return {
        "ratio": np.pad(evidence.ratio, pad, constant_values=1.0),
        "ratio_sd": np.pad(evidence.ratio_sd, pad, constant_values=1.0),
        "per_mg_dl": np.pad(evidence.ratio_per_mg_dl, pad),
        "band": np.pad(evidence.band, pad),
        "period": np.pad(period, pad),
        "counts": (np.arange(size) < n).astype(float),
        "gaps": gaps,
    }


def new_sampler():
    return MCMC(
        NUTS(model, target_accept_prob=0.9, init_strategy=init_to_median),
        num_warmup=WARM_UP, num_samples=DRAWS, num_chains=CHAINS, chain_method="vectorized",
        progress_bar=False, jit_model_args=True,
    )  # fmt: skip


def by_nuts(sampler, evidence, seed):
    begin = time.perf_counter()
    sampler.run(jax.random.PRNGKey(seed), **padded(evidence))
    now = np.asarray(sampler.get_samples(group_by_chain=True)["now"])
    return now, effective_sample_size(now), time.perf_counter() - begin


def by_us(bands_n, evidence, level):
    begin = time.perf_counter()
    found = levels_at(smoothed_history(evidence, bands_n, level).state, WEEKS - 1, 0, level)
    return found, time.perf_counter() - begin


def frozen_row(seed, bands_n, evidence, now):
    return {
        "person": seed,
        "bands_n": bands_n,
        "ratio": [round(float(v), 4) for v in evidence.ratio],
        "ratio_sd": [round(float(v), 4) for v in evidence.ratio_sd],
        "ratio_per_mg_dl": [round(float(v), 5) for v in evidence.ratio_per_mg_dl],
        "band": evidence.band.tolist(),
        "week": evidence.week.tolist(),
        "mean": [round(float(v), 5) for v in now.mean((0, 1))[:bands_n]],
        "sd": [round(float(v), 5) for v in now.std((0, 1))[:bands_n]],
    }


def bar(name, value, limit, holds):
    print(f"| {name} | {value} | {limit} | {'holds' if holds else 'FALLS SHORT'} |")
    return holds


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("--persons", type=int, default=30)
    asked.add_argument("--freeze", action="store_true")
    arguments = asked.parse_args()
    level = level_model(shipped().levels.model_copy(update={"path_bias_nodes": PATH_BIAS_NODES}))
    by_us(*drawn_person(0, shipped().levels), level)  # once, so that first-time work is not counted
    samplers = {}
    rows, off_mean, off_sd, speed, ess_least = [], [], [], [], np.inf
    for seed in range(arguments.persons):
        bands_n, evidence = drawn_person(seed, shipped().levels)
        size = len(padded(evidence)["ratio"])
        if size not in samplers:  # compiled here, which is not counted
            samplers[size] = new_sampler()
            by_nuts(samplers[size], evidence, seed)
        now, ess, slow = by_nuts(samplers[size], evidence, seed)
        found, fast = by_us(bands_n, evidence, level)
        mean, sd = now.mean((0, 1))[:bands_n], now.std((0, 1))[:bands_n]
        off_mean.append(np.abs(found.mean - mean) / sd)
        off_sd.append(np.abs(found.sd / sd - 1))
        speed.append(slow / fast)
        ess_least = min(ess_least, float(ess[:bands_n].min()))
        if ess[:bands_n].min() >= LEAST_ESS:
            rows.append(frozen_row(seed, bands_n, evidence, now))
        if arguments.freeze:
            text = {
                "made_by": "tests/benchmark/levels_nuts.py --freeze",
                "weeks": WEEKS,
                "model": {name: getattr(shipped().levels, name) for name in OF_THE_MODEL},
                "persons": rows,
            }
            FROZEN.write_text(json.dumps(text, separators=(",", ":")) + "\n")
        print(
            f"{seed} n={len(evidence)} mean off {off_mean[-1].max():.3f} sd, sd off {off_sd[-1].max():.3f}, "
            f"{slow:.1f} s against {fast * 1e3:.1f} ms, ess {ess[:bands_n].min():.0f}",
            file=sys.stderr,
        )
    print("| levels against NUTS | measured | bar | |\n| --- | --- | --- | --- |")
    worst_mean, worst_sd = max(v.max() for v in off_mean), max(v.max() for v in off_sd)
    holds = [
        bar("bulk ESS, least", f"{ess_least:.0f}", f">= {LEAST_ESS}", ess_least >= LEAST_ESS),
        bar("mean, most off, sd", f"{worst_mean:.3f}", f"<= {MEAN_WITHIN_SD}", worst_mean <= MEAN_WITHIN_SD),
        bar("sd, most off, part", f"{worst_sd:.3f}", f"<= {SD_WITHIN_PART}", worst_sd <= SD_WITHIN_PART),
        bar("times faster, median", f"{np.median(speed):.0f}", f">= {TIMES_FASTER}", np.median(speed) >= TIMES_FASTER),
    ]
    return 0 if all(holds) else 1


LIMIT = 3.0  # beyond it a week's step would exceed the level's own spread

if __name__ == "__main__":
    numpyro.enable_x64()
    sys.exit(main())
