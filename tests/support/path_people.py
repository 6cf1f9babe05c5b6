"""A made-up person whose every fall, treatment and rise is written down: the measure must find what was put in."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.domain.frames import DOSES, EVENTS, READINGS, SCREENED
from gramrise.domain.person import Dated, Person
from gramrise.estimate.path.candidates import shipped_parameters
from gramrise.estimate.path.rise_shape import RiseShape, rise_curve
from gramrise.estimate.path_settings import shipped
from gramrise.estimate.treatment.forecast import forecast_by_best_candidate
from gramrise.estimate.treatment.measurement import MeasurementSetup, measure_each
from gramrise.estimate.treatment.model_averaging import candidate_posterior_of

SETTINGS = shipped()
START = datetime(2026, 3, 2, 12, tzinfo=UTC)
KG = 32.0
GRAMS = 0.15 * KG  # the reference amount
APART = timedelta(hours=8)
LOWEST = 40.0


def curve(gut_min=None, disposal_per_min=None):
    middle = shipped_parameters(SETTINGS)
    gut = middle.gut_min["tablet"] if gut_min is None else gut_min
    disposal = middle.disposal_per_min if disposal_per_min is None else disposal_per_min
    return rise_curve(RiseShape(gut, disposal, middle.lag_min)).shown


def untreated(minutes, fall=0.7):
    """A fall that passes 72 at minute 0 and comes to rest."""
    after = 72.0 - fall * 25.0 * (1 - np.exp(-np.maximum(minutes, 0) / 25.0))
    return np.where(minutes < 0, 72.0 - fall * minutes, after)


def life(
    factor=8.0, treatments=6, grams=(GRAMS,), at=(0,), late=0, step=5, noise=2.0, seed=1, level=untreated, shape=None
):
    """Inputs and SCREENED of a person treated again and again.

    grams, at  amounts of one treatment's doses and their minutes; late: minutes by which the log is behind the truth
    """
    rng = np.random.default_rng(seed)
    rise = curve() if shape is None else shape
    readings, doses, rows = [], [], []
    for number in range(treatments):
        first = START + number * APART
        minutes = np.arange(-120, 181, step)
        shown = level(minutes) + noise * rng.standard_normal(minutes.size)
        for amount, minute in zip(grams, at, strict=True):
            since = minutes - minute
            shown = shown + factor * amount * np.where(since > 0, rise[np.clip(since, 0, 360)], 0.0)
            doses.append((first + timedelta(minutes=minute + late), amount))
        readings += [(first + timedelta(minutes=int(m)), float(v)) for m, v in zip(minutes, shown, strict=True)]
        rows.append(screened_row(first + timedelta(minutes=late), at, grams))
    return Inputs(person(), readings_frame(readings), doses=doses_frame(doses)), screened_frame(rows)


def person():
    zone = Dated(((date(2016, 1, 1), ZoneInfo("America/Chicago")),))
    return Person("mia", date(2016, 1, 1), zone, weights_kg=Dated(((date(2026, 1, 1), KG),)))


def readings_frame(rows):
    return READINGS.check(
        pl.DataFrame(
            {
                "person_id": ["mia"] * len(rows),
                "at_utc": [at for at, _ in rows],
                "glucose_mg_dl": [max(v, LOWEST) for _, v in rows],
                "range": ["below" if v < LOWEST else "in" for _, v in rows],
                "offset_minutes": [None] * len(rows),
            },
            schema=READINGS.schema,
        )
    )


def doses_frame(rows):
    n = len(rows)
    columns = {
        "person_id": ["mia"] * n,
        "taken_at_utc": [at for at, _ in rows],
        "source": [""] * n,
        "ordinal": [1] * n,
        "form": ["tablet"] * n,
        "amount": [g for _, g in rows],
        "amount_unit": ["g"] * n,
        "grams": [g for _, g in rows],
        "may_be_weaker": [False] * n,
        "remarks": [[]] * n,
        "origin": ["file"] * n,
        "noticed": [""] * n,
    }
    return DOSES.check(pl.DataFrame(columns, schema=DOSES.schema))


def events_frame(kind, rows):
    n = len(rows)
    columns = {
        "person_id": ["mia"] * n,
        "at_utc": [at for at, _ in rows],
        "until_utc": [None] * n,
        "kind": [kind] * n,
        "amount": [a for _, a in rows],
        "text": [""] * n,
    }
    return EVENTS.check(pl.DataFrame(columns, schema=EVENTS.schema))


def screened_row(first, at, grams):
    last = first + timedelta(minutes=max(at) - min(at))
    return {
        "person_id": "mia",
        "first_dose_utc": first,
        "last_dose_utc": last,
        "class": "for_low",
        "doses_n": len(grams),
        "grams": float(sum(grams)),
        "sources": [""],
        "form": "tablet",
        "band": "daytime",
        "low_start_utc": first,
        "verdict": "used",
        "reasons": [],
        "window_from_utc": first - timedelta(minutes=90),
        "window_to_utc": last + timedelta(minutes=90),
        "start_seen_mg_dl": 72.0,
        "rise_seen_mg_dl": 30.0,
        "slope_mg_dl_per_min": -0.7,
        "insulin_on_board_units": None,
    }


def screened_frame(rows):
    frame = SCREENED.check(pl.DataFrame(rows, schema=SCREENED.schema))
    return frame.with_columns(weight_kg=pl.lit(KG))


def predict(inputs, screened):
    """What was to be expected of each treatment, by the candidate that those before it favour."""
    setup = MeasurementSetup.of(SETTINGS)
    records, _ = measure_each(inputs, screened, setup)
    nothing = np.zeros(len(setup.model.candidates))
    return forecast_by_best_candidate(records, candidate_posterior_of(records, screened, setup, nothing), setup.minutes)
