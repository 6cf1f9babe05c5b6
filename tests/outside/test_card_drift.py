"""The card's doubt about where a level goes without glucose, measured again on open data of real people.

Sources: HUPA-UCM diabetes dataset (Hidalgo et al., CC BY 4.0) and T1D-UOM (CC BY 4.0), extracts of 6 adults, read in
place from GRAMRISE_OUTSIDE_DATA. Rises are left out: where the level went up glucose may have been eaten.
"""

import os
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from gramrise.report.card.numbers.predictive import Fall
from gramrise.report.card.settings import SHIPPED_SETTINGS

DATA = os.environ.get("GRAMRISE_OUTSIDE_DATA")

pytestmark = [
    pytest.mark.outside,
    pytest.mark.skipif(not DATA, reason="set GRAMRISE_OUTSIDE_DATA to the folder of outside data to run this check"),
]


def traces():
    """(minutes, mg/dL) of each person."""
    folder = Path(DATA) / "datasets"
    for file in sorted((folder / "hupa_ucm").glob("HUPA*.csv")):
        frame = pl.read_csv(file, separator=";", infer_schema_length=None)
        yield frame["time"].str.to_datetime(), frame["glucose"].cast(pl.Float64)
    for file in sorted((folder / "t1d_uom").glob("UoMGlucose*.csv")):
        frame = pl.read_csv(file)
        at = frame["bg_ts"].str.to_datetime("%d/%m/%Y %H:%M", strict=False)
        if at.null_count() > frame.height / 10:
            at = frame["bg_ts"].str.to_datetime("%m/%d/%Y %H:%M", strict=False)
        yield at, frame["value"].cast(pl.Float64) * 18.0156


def falls(at, value, minutes):
    """Falls over so many minutes from 54-79 mg/dL, where the 15 minutes before moved by no more than 15 mg/dL."""
    frame = pl.DataFrame({"at": at, "value": value}).drop_nulls().unique("at").sort("at")
    t, g = frame["at"].dt.epoch("s").to_numpy() / 60, frame["value"].to_numpy()
    step = float(np.median(np.diff(t)))
    here = np.flatnonzero((g >= 54) & (g < 80))

    def near(when):
        return np.abs(t[np.searchsorted(t, when).clip(0, t.size - 1)] - when) <= step

    calm = near(t[here] + minutes) & near(t[here] - 15) & (np.abs(g[here] - np.interp(t[here] - 15, t, g)) <= 15)
    change = np.interp(t[here] + minutes, t, g)[calm] - g[here][calm]
    return change[change < 0]


@pytest.mark.parametrize("minutes", [15, 40])
def test_real_levels_fall_about_as_far_as_the_card_doubts(minutes):
    spreads = [np.sqrt(np.mean(falls(at, value, minutes) ** 2)) for at, value in traces()]
    assert len(spreads) == 6
    doubted = SHIPPED_SETTINGS.drift_sd_mg_dl * (minutes / SHIPPED_SETTINGS.drift_minutes) ** 0.5
    assert np.median(spreads) == pytest.approx(doubted, rel=0.2)


def falling(at, value, minutes):
    """Falls over so many minutes from 54-79 mg/dL, where the level had fallen 0.7 to 1 a minute and went on falling."""
    frame = pl.DataFrame({"at": at, "value": value}).drop_nulls().unique("at").sort("at")
    t, g = frame["at"].dt.epoch("s").to_numpy() / 60, frame["value"].to_numpy()
    step = float(np.median(np.diff(t)))
    here = np.flatnonzero((g >= 54) & (g < 80))

    def near(when):
        return np.abs(t[np.searchsorted(t, when).clip(0, t.size - 1)] - when) <= step

    slope = (g[here] - np.interp(t[here] - 15, t, g)) / 15
    chosen = near(t[here] + minutes) & near(t[here] - 15) & (slope >= -1.0) & (slope < -0.7)
    change = np.interp(t[here] + minutes, t, g)[chosen] - g[here][chosen]
    return -change[change < 0]


@pytest.mark.parametrize("minutes", [15, 40])
def test_the_fall_the_card_allows_for_is_no_smaller_than_real_falls_of_its_steepness(minutes):
    medians = [np.median(falling(at, value, minutes)) for at, value in traces()]
    assert len(medians) == 6
    rules = SHIPPED_SETTINGS
    allowed = Fall(rules.most_fall_mg_dl_per_min, rules.fall_lasts_minutes).fallen_mg_dl(minutes)
    assert np.max(medians) <= allowed
    assert allowed <= 2 * np.median(medians)
