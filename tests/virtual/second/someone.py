"""Who lives in the second cohort: kinetics, factors, habits."""

from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from gramrise.domain.person import Dated, Person
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.domain.words import Delivery
from virtual.second.body import Kinetics

# As in the first cohort: k log-normal (245, 0.45; our summary of published trials), contrast of bands 0.5-2.2.
MIDDLE_K, PERSON_SD, BAND_SD, CONTRAST = 245.0, 0.35, 0.28, (0.5, 2.2)
ZONES = ("America/New_York", "Europe/Vienna", "Asia/Tokyo")


@dataclass(frozen=True, slots=True)
class Someone:
    name: str
    born: date
    zone: ZoneInfo
    kg: float
    kg_per_day: float
    k: tuple[float, float]  # daytime, overnight
    rate: float  # doses a day
    piece: Source
    liquid: Source
    pump: bool
    step: int
    usual_g_per_kg: float
    steadiness: float  # spread of the habits' noise
    kinetics: Kinetics

    def as_person(self, start: date, days: int, rng: np.random.Generator) -> Person:
        since = start - timedelta(days=200)
        weighed = tuple(
            (start + timedelta(days=d), round(self.kg + d * self.kg_per_day + 0.25 * rng.standard_normal(), 1))
            for d in range(0, days, 60)
        )
        return Person(
            person_id=self.name,
            born=self.born,
            zone=Dated(((since, self.zone),)),
            weights_kg=Dated(weighed),
            delivery=Dated(((since, Delivery.PUMP if self.pump else Delivery.INJECTIONS),)),
            sources=Dated(((since, (self.piece, self.liquid)),)),
        )


def draw(rng: np.random.Generator, name: str, start: date, step: int) -> Someone:
    years = float(rng.choice([rng.uniform(4, 17), rng.uniform(18, 65)], p=[0.65, 0.35]))
    kg = float((17 + 3.6 * min(years - 4, 13)) * np.exp(0.15 * rng.standard_normal()))
    seldom = rng.random() < 0.5
    return Someone(
        name=name,
        born=start - timedelta(days=round(365.25 * years)),
        zone=ZoneInfo(ZONES[int(rng.integers(len(ZONES)))]),
        kg=kg,
        kg_per_day=0.09 * kg / 365 if years < 16 else 0.0,
        k=_factors(rng),
        rate=float(np.exp(rng.uniform(np.log(0.2), 0.0) if seldom else rng.uniform(0.0, np.log(2.5)))),
        piece=Source("square", Form.TABLET, grams_per_piece=2.5 if kg < 45 else 4.0, stated_as=StatedAs.ANHYDROUS),
        liquid=Source("mix", Form.LIQUID, grams_per_ml=0.3, stated_as=StatedAs.ANHYDROUS, sealed=False),
        pump=rng.random() < 0.5,
        step=step,
        usual_g_per_kg=float(0.17 * np.exp(0.2 * rng.standard_normal())),
        steadiness=float(np.exp(0.2 * rng.standard_normal())),
        kinetics=_kinetics(rng),
    )


def _factors(rng: np.random.Generator) -> tuple[float, float]:
    own = np.log(MIDDLE_K) + PERSON_SD * rng.standard_normal()
    while True:
        pair = np.exp(own + BAND_SD * rng.standard_normal(2))
        if CONTRAST[0] <= pair[0] / pair[1] <= CONTRAST[1]:
            return float(pair[0]), float(pair[1])


def _kinetics(rng: np.random.Generator) -> Kinetics:
    """Middles from memory of minimal-model studies in type 1 diabetes (p1 about 0.01-0.015, p2 about 0.02 per min)."""

    def near(middle: float, sd: float) -> float:
        return float(middle * np.exp(sd * rng.standard_normal()))

    return Kinetics(
        p1=near(0.009, 0.25),
        p2=near(0.02, 0.2),
        sensitivity=near(4.5e-4, 0.3),
        volume_dl_kg=near(1.7, 0.1),
        basal_glucose=near(120.0, 0.06),
        basal_insulin=12.0,
        insulin_gone_per_min=near(0.10, 0.15),
        insulin_volume_l_kg=0.10,
        depot_per_min=near(0.021, 0.15),
        available=0.9,
        ramp_min=float(rng.uniform(5.0, 11.0)),
        absorption_per_min=near(0.09, 0.2),
        rising_lag=near(8.0, 0.12),
        falling_lag=near(5.5, 0.12),
    )
