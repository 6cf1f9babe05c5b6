"""The three invented families of `sample_exports`, and their lives."""

from dataclasses import dataclass, replace
from datetime import date
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np

from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.domain.units import GlucoseUnit
from gramrise.domain.words import Delivery
from virtual.cohort import Cohort, CohortSpec, cohort
from virtual.people import PersonPlan, draw_person
from virtual.settings import VirtualSettings, shipped

# Eleven weeks from a Monday; the last Sunday of October (Europe) and the first of November (America) lie within.
START: Final = date(2025, 8, 25)
DAYS: Final = 77
SHIPPED_SEED: Final = 1
_NUMBERS: Final = {"family_a": 1, "family_b": 2, "family_c": 3}


@dataclass(frozen=True, slots=True)
class SampleFamily:
    """One family: its folder, who the person is, and what the family logs."""

    folder: str
    plan: PersonPlan
    insulin_logged: bool


def families(seed: int) -> tuple[SampleFamily, ...]:
    """The families of a seed: the same persons, with other bodies and other days for another seed."""
    return _family_a(seed), _family_b(seed), _family_c(seed)


def sample_family(seed: int, folder: str = "family_a") -> Cohort:
    """One family's eleven weeks with their truth; `folder` is family_a, family_b or family_c."""
    family = next(family for family in families(seed) if family.folder == folder)
    spec = CohortSpec(
        seed=seed * 10 + _NUMBERS[folder],
        days=DAYS,
        start=START,
        insulin_logged=family.insulin_logged,
        people=(family.plan,),
        settings=careful(),
    )
    return cohort(spec)


def careful() -> VirtualSettings:
    """How the sample families live: as the cohorts do, but they log with care. Our choice, shares and minutes.

    The benchmark's persons log worse and eat more after a low; what that costs is measured there.
    """
    usual = shipped()
    logging = {
        "dose_time_sd_min": 2.0,
        "dose_time_far_share": 0.02,
        "dose_piece_off_share": 0.02,
        "dose_unlogged_share": 0.04,
    }
    return usual.model_copy(
        update={
            "logging": usual.logging.model_copy(update=logging),
            "treating": usual.treating.model_copy(update={"food_after_share": 0.1}),
        }
    )


def _family_a(seed: int) -> SampleFamily:
    """A boy of nine in Chicago; mg/dL; 1 g raises him clearly more by day than by night. Insulin and food logged."""
    drawn = draw_person(np.random.default_rng([seed, 1]), "robin", START, 5, shipped())
    plan = replace(
        drawn,
        born=date(2016, 4, 18),
        sex="boy",
        name="Robin Example",
        zone=ZoneInfo("America/Chicago"),
        weight_kg=30.0,
        growth_per_year=0.10,
        factors_k=(340.0, 200.0),
        doses_per_day=2.0,
        pieces=Source(
            "candy", Form.TABLET, grams_per_piece=0.92, stated_as=StatedAs.ANHYDROUS, other_names=("candies",)
        ),
        liquid=Source(
            "bottle",
            Form.LIQUID,
            grams_per_ml=0.25,
            stated_as=StatedAs.ANHYDROUS,
            sealed=False,
            other_names=("liquid",),
        ),
        delivery=Delivery.PUMP,
    )
    return SampleFamily("family_a", plan, insulin_logged=True)


def _family_b(seed: int) -> SampleFamily:
    """A girl of fourteen near Berlin; mmol/L; 1 g raises her more by night. No insulin, no grams of food logged."""
    drawn = draw_person(np.random.default_rng([seed, 2]), "kim", START, 5, shipped())
    plan = replace(
        drawn,
        born=date(2011, 6, 2),
        sex="girl",
        name="Kim Beispiel",
        zone=ZoneInfo("Europe/Berlin"),
        unit=GlucoseUnit.MMOL_L,
        weight_kg=52.0,
        growth_per_year=0.05,
        factors_k=(200.0, 330.0),
        doses_per_day=2.0,
        pieces=Source(
            "Traubenzucker", Form.TABLET, grams_per_piece=3.0, stated_as=StatedAs.ANHYDROUS, other_names=("Stück",)
        ),
        liquid=Source(
            "Fläschchen",
            Form.LIQUID,
            grams_per_ml=0.25,
            stated_as=StatedAs.ANHYDROUS,
            sealed=False,
            other_names=("Saft",),
        ),
        delivery=Delivery.INJECTIONS,
    )
    return SampleFamily("family_b", plan, insulin_logged=False)


def _family_c(seed: int) -> SampleFamily:
    """A girl of eleven in New York; mg/dL; everything is logged by programs that speak open standards."""
    drawn = draw_person(np.random.default_rng([seed, 3]), "noor", START, 5, shipped())
    plan = replace(
        drawn,
        born=date(2014, 2, 9),
        sex="girl",
        name="Noor Sample",
        zone=ZoneInfo("America/New_York"),
        weight_kg=38.0,
        growth_per_year=0.08,
        factors_k=(300.0, 190.0),
        doses_per_day=2.0,
        pieces=Source(
            "tablets", Form.TABLET, grams_per_piece=4.0, stated_as=StatedAs.ANHYDROUS, other_names=("tablet",)
        ),
        liquid=Source(
            "bedside bottle",
            Form.LIQUID,
            grams_per_ml=0.25,
            stated_as=StatedAs.ANHYDROUS,
            sealed=False,
            other_names=("bottle",),
        ),
        delivery=Delivery.AUTOMATED,
    )
    return SampleFamily("family_c", plan, insulin_logged=True)
