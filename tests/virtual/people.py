"""Who the invented persons are: body, physiology, true factors per band, habits. Drawn from a seed, or given."""

from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from gramrise.domain.bands import DEFAULT_BANDS
from gramrise.domain.person import Dated, Person
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.domain.units import GlucoseUnit
from gramrise.domain.words import Delivery
from virtual.hovorka import Physiology
from virtual.settings import VirtualSettings

BAND_NAMES = tuple(band.name for band in DEFAULT_BANDS)

PIECES = (
    Source("candy", Form.TABLET, grams_per_piece=0.92, stated_as=StatedAs.ANHYDROUS),
    Source("tablet", Form.TABLET, grams_per_piece=3.0, stated_as=StatedAs.ANHYDROUS),
    Source("big tablet", Form.TABLET, grams_per_piece=4.0, stated_as=StatedAs.ANHYDROUS),
)
LIQUID = Source("home liquid", Form.LIQUID, grams_per_ml=0.25, stated_as=StatedAs.ANHYDROUS, sealed=False)
ZONES = ("Europe/Berlin", "America/Chicago", "Australia/Melbourne", "UTC")
# Body weight by age, kg at 6, 10, 14, 18, 40 years: round figures near the middle of CDC 2000 (from memory), and the
# sd of log about them.
AGES, WEIGHTS_KG, WEIGHT_SD_LOG = (4.0, 6.0, 10.0, 14.0, 18.0, 40.0), (16.5, 20.5, 32.5, 50.0, 64.0, 75.0), 0.14


@dataclass(frozen=True, slots=True)
class PersonPlan:
    """What is decided about one invented person before the first minute is lived.

    factors_k is the aimed weight-adjusted factor per band, mg/dL x kg per g; the true one is what twins find.
    """

    person_id: str
    born: date
    sex: str
    zone: ZoneInfo
    weight_kg: float
    growth_per_year: float
    factors_k: tuple[float, float]  # daytime, overnight
    doses_per_day: float
    pieces: Source
    liquid: Source
    delivery: Delivery
    step_minutes: int
    exponent: float
    absorption_min: tuple[float, float]  # pieces, liquid
    believed_k: float
    physiology: Physiology
    unit: GlucoseUnit = GlucoseUnit.MG_DL
    name: str = ""


def draw_person(
    rng: np.random.Generator, person_id: str, start: date, step_minutes: int, settings: VirtualSettings
) -> PersonPlan:
    """One person from a generator; the same generator state gives the same person."""
    age = float(rng.uniform(4, 18)) if rng.random() < 0.7 else float(rng.uniform(18, 60))
    weight = float(np.interp(age, AGES, WEIGHTS_KG) * np.exp(WEIGHT_SD_LOG * rng.standard_normal()))
    later = float(np.interp(age + 1, AGES, WEIGHTS_KG) / np.interp(age, AGES, WEIGHTS_KG))
    treating, factor = settings.treating, settings.factor
    often = rng.random() < 0.5
    span = (
        (treating.middle_per_day, treating.most_per_day) if often else (treating.least_per_day, treating.middle_per_day)
    )
    shortest, longest = factor.least_absorption_min, factor.most_absorption_min
    return PersonPlan(
        person_id=person_id,
        born=start - timedelta(days=round(age * 365.25)),
        sex="boy" if rng.random() < 0.5 else "girl",
        zone=ZoneInfo(ZONES[int(rng.integers(len(ZONES)))]),
        weight_kg=weight,
        growth_per_year=later - 1.0,
        factors_k=draw_factors(rng, settings),
        doses_per_day=float(np.exp(rng.uniform(*np.log(span)))),
        pieces=PIECES[0] if weight < 40 else PIECES[int(rng.integers(len(PIECES)))],
        liquid=LIQUID,
        delivery=Delivery.PUMP if rng.random() < 0.6 else Delivery.INJECTIONS,
        step_minutes=step_minutes,
        exponent=float(rng.uniform(factor.least_exponent, factor.most_exponent)),
        absorption_min=(float(rng.uniform(shortest, longest)), float(rng.uniform(shortest, longest))),
        believed_k=treating.believed_k * float(np.exp(treating.believed_sd_log * rng.standard_normal())),
        physiology=draw_physiology(rng, settings),
    )


def draw_factors(rng: np.random.Generator, settings: VirtualSettings) -> tuple[float, float]:
    """Aimed weight-adjusted factors (daytime, overnight), their ratio held within the limits by drawing again."""
    factor = settings.factor
    person = np.log(factor.median_k) + factor.person_sd_log * rng.standard_normal()
    while True:
        day, night = np.exp(person + factor.band_sd_log * rng.standard_normal(2))
        if factor.least_contrast <= day / night <= factor.most_contrast:
            return float(day), float(night)


def draw_physiology(rng: np.random.Generator, settings: VirtualSettings) -> Physiology:
    """One person's rates: published means, log-normal spread; the liver always gives more than the brain uses."""
    published = settings.physiology.model_dump()
    drawn = {name: published[name] * float(np.exp(sd * rng.standard_normal())) for name, sd in settings.spread.items()}
    sensor = settings.sensor
    lags = np.exp(sensor.lag_sd_log * rng.standard_normal(2))
    own = published | drawn
    # Our choice: below this ratio no insulin at all would be needed, which is not type 1 diabetes.
    own["egp0_mmol_per_kg_min"] = max(own["egp0_mmol_per_kg_min"], 1.45 * own["f01_mmol_per_kg_min"])
    return Physiology(
        **own,
        rising_lag_min=sensor.rising_lag_min * float(lags[0]),
        falling_lag_min=sensor.falling_lag_min * float(lags[1]),
    )


def as_person(plan: PersonPlan, start: date, weighings: tuple[tuple[date, float], ...]) -> Person:
    """The person as a family would have entered them."""
    long_before = start - timedelta(days=365)
    return Person(
        person_id=plan.person_id,
        born=plan.born,
        zone=Dated(((long_before, plan.zone),)),
        unit=plan.unit,
        name=plan.name,
        sex=plan.sex,
        weights_kg=Dated(weighings),
        delivery=Dated(((long_before, plan.delivery),)),
        sources=Dated(((long_before, (plan.pieces, plan.liquid)),)),
    )
