"""What open traces say of the untreated path: the evidence beside config/estimate_path.toml, [default.path].

    GRAMRISE_OUTSIDE_DATA=... python tests/benchmark/path_priors.py

The path is learned from falling stretches of eight open traces alone (no treated windows: amounts and weights are not
published there), starting from the shipped numbers with wide room. Traces without a food log are followed only to the
first reading below 70, where their owners eat unlogged. What comes out for `pull`, `lasting` and `drive` still holds
meals and rescues nobody logged, so those three rest on physiology and the traces only bound the noise; the table
prints both.
"""

from dataclasses import replace

import numpy as np
import polars as pl
import tests_on_path  # noqa: F401 - support and virtual lie in tests
from support.detect_traces import FOLDER, trace_inputs
from support.path_learning import PATH_NAMES, LearningSettings, learn

from gramrise.estimate.path.candidates import shipped_parameters
from gramrise.estimate.path_settings import shipped

FOOD_LOGGED = ("2305", "2306", "2320")
NO_FOOD_LOG = ("914", "926", "995")
STOP_BELOW_MG_DL = 70.0
WIDE_SD_LOG = 0.7


def until_first_low(inputs):
    """The trace with readings kept only outside lows and the two hours after their start."""
    low = inputs.readings.filter(pl.col("glucose_mg_dl") < STOP_BELOW_MG_DL)["at_utc"].dt.epoch("us").to_numpy()
    at = inputs.readings["at_utc"].dt.epoch("us").to_numpy()
    before = np.searchsorted(low, at, side="left")
    since = np.where(before > 0, at - low[np.maximum(before - 1, 0)], np.iinfo(np.int64).max) if low.size else at
    return replace(inputs, readings=inputs.readings.filter(pl.Series(since > 120 * 60_000_000)))


def main():
    if not FOLDER.is_dir():
        print("NOT RUN: set GRAMRISE_OUTSIDE_DATA to the folder that holds datasets/")
        return
    settings = shipped()
    wide = LearningSettings(sd=dict.fromkeys(PATH_NAMES, WIDE_SD_LOG))
    people = [trace_inputs(name) for name in FOOD_LOGGED] + [until_first_low(trace_inputs(n)) for n in NO_FOOD_LOG]
    nothing = pl.DataFrame(schema={"verdict": pl.String(), "first_dose_utc": pl.Datetime("us", "UTC")})
    found = {}
    for label, some in (("all", people), ("food logged", people[: len(FOOD_LOGGED)])):
        bare = [type(i)(i.person, i.readings, events=i.events.filter(pl.col("kind") == "food")) for i in some]
        found[label] = learn([(inputs, nothing) for inputs in bare], settings, wide)
    first = shipped_parameters(settings)
    print(f"{'':16s} {'shipped':>10s} " + " ".join(f"{label:>12s}" for label in found))
    for name in PATH_NAMES:
        learned = " ".join(f"{getattr(each.parameters.path, name):12.4g}" for each in found.values())
        print(f"{name:16s} {getattr(first.path, name):10.4g} {learned}")
    print("stretches", {label: each.untreated_n for label, each in found.items()})


if __name__ == "__main__":
    main()
