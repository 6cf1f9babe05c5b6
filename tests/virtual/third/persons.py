"""Who lives in the third cohort: body, factors, habits of treating and of writing down."""

from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from gramrise.domain.person import Dated, Person
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.domain.words import Delivery
from virtual.third.body import Body, at_rest, shown_over

# The published middle and spreads that all cohorts aim at: k log-normal (245, 0.45), band contrast 0.5-2.2.
MIDDLE_K, PERSON_SD, BAND_SD, CONTRAST = 245.0, 0.35, 0.28, (0.5, 2.2)
REFERENCE_G_PER_KG = 0.15
ZONES = ("Europe/London", "America/Denver", "Australia/Sydney")
WRITES_EXACTLY, WRITES_TENS, WRITES_QUARTERS = range(3)


@dataclass(frozen=True, slots=True)
class Resident:
    name: str
    born: date
    zone: ZoneInfo
    kg: float
    kg_per_day: float
    body: Body
    gains: tuple[float, float]  # grams at work per gram swallowed: daytime, overnight
    treatments_a_day: float
    tablet: Source
    juice: Source
    step: int
    usual_g_per_kg: float
    alarm_mg_dl: float
    patience_min: int  # before a further amount
    writes: int
    drive_minutes: float
    drive_sd: float
    pump: bool

    def as_person(self, start: date, days: int, rng: np.random.Generator) -> Person:
        since = start - timedelta(days=90)
        weighings = tuple(
            (start + timedelta(days=d), round(self.kg + self.kg_per_day * d + 0.3 * float(rng.standard_normal()), 1))
            for d in range(0, days, 45)
        )
        return Person(
            person_id=self.name,
            born=self.born,
            zone=Dated(((since, self.zone),)),
            weights_kg=Dated(weighings),
            delivery=Dated(((since, Delivery.PUMP if self.pump else Delivery.INJECTIONS),)),
            sources=Dated(((since, (self.tablet, self.juice)),)),
        )


def resident(rng: np.random.Generator, name: str, start: date, step: int) -> Resident:
    years = float(rng.uniform(3.5, 18.0) if rng.random() < 0.7 else rng.uniform(18.0, 60.0))
    kg = float((16.0 + 3.9 * (min(years, 16.0) - 3.5)) * rng.lognormal(0.0, 0.13))
    body = _body(rng, kg)
    return Resident(
        name=name,
        born=start - timedelta(days=round(365.25 * years)),
        zone=ZoneInfo(str(rng.choice(ZONES))),
        kg=kg,
        kg_per_day=0.085 * kg / 365.0 if years < 15.0 else 0.0,
        body=body,
        gains=_gains(body, kg, _aimed(rng)),
        treatments_a_day=float(np.exp(rng.uniform(np.log(0.15), np.log(1.6)))),
        tablet=Source("disc", Form.TABLET, grams_per_piece=3.0 if kg < 40 else 4.5, stated_as=StatedAs.ANHYDROUS),
        juice=Source("bottle", Form.LIQUID, grams_per_ml=0.25, stated_as=StatedAs.ANHYDROUS, sealed=False),
        step=step,
        usual_g_per_kg=float(0.19 * rng.lognormal(0.0, 0.25)),
        alarm_mg_dl=float(rng.choice([65.0, 70.0, 75.0, 80.0], p=[0.2, 0.4, 0.2, 0.2])),
        patience_min=int(rng.integers(15, 26)),
        writes=int(rng.integers(3)),
        drive_minutes=float(np.exp(rng.uniform(np.log(90.0), np.log(280.0)))),
        drive_sd=float(rng.uniform(0.10, 0.22)),
        pump=bool(rng.random() < 0.4),
    )


def _body(rng: np.random.Generator, kg: float) -> Body:
    def about(middle: float, spread: float) -> float:
        return float(middle * rng.lognormal(0.0, spread))

    return Body(
        resting=about(122.0, 0.07),
        hepatic=about(2.4, 0.15),
        half_uptake=about(180.0, 0.2),
        insulin_on_uptake=about(1.2, 0.25),
        transit_min=about(22.0, 0.2),
        action_min=about(22.0, 0.2),
        counter_below=about(67.0, 0.05),
        counter_per_min=about(0.02, 0.3),
        counter_min=about(15.0, 0.2),
        volume_dl_kg=about(1.75, 0.08),
        stomach_most_g_min=about(1.1, 0.2) * (kg / 50.0) ** 0.75,
        stomach_half_g=about(9.0, 0.2) * (kg / 50.0) ** 0.75,
        gut_per_min=about(0.11, 0.2),
        meal_min=about(30.0, 0.15),
        tissue_min=about(6.0, 0.15),
        device_min=about(3.5, 0.2),
        basal_u_min=0.018 * kg / 50.0,
    )


def _aimed(rng: np.random.Generator) -> tuple[float, float]:
    own = MIDDLE_K * rng.lognormal(0.0, PERSON_SD)
    day, night = 0.0, 1.0
    while not CONTRAST[0] <= day / night <= CONTRAST[1]:
        day, night = (float(each) for each in own * rng.lognormal(0.0, BAND_SD, 2))
    return day, night


def _gains(body: Body, kg: float, aimed: tuple[float, float]) -> tuple[float, float]:
    return _gain(body, kg, aimed[0]), _gain(body, kg, aimed[1])


def _gain(body: Body, kg: float, k: float) -> float:
    """Grams at work per gram so that the reference amount lifts by k in a body that lies at 75 mg/dL."""
    n, reference = 180, REFERENCE_G_PER_KG * kg
    state = at_rest(body)
    state[:3] = 75.0
    quiet, basal = np.zeros(n), np.full(n, body.basal_u_min)
    without = shown_over(state, body, kg, basal, quiet, quiet, quiet)[0]
    gain = 1.0
    for _ in range(6):
        given = quiet.copy()
        given[0] = gain * reference
        rise = (shown_over(state, body, kg, basal, quiet, given, quiet)[0] - without).max()
        gain *= k * REFERENCE_G_PER_KG / rise
    return float(gain)
