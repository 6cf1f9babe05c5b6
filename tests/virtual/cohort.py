"""A cohort of invented persons with known truth: what a program would be given, and what really happened."""

from dataclasses import dataclass
from datetime import date

import numpy as np
import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.domain.starting import REFERENCE_GRAMS_PER_KG
from gramrise.domain.words import Delivery
from virtual.calibrating import drop_per_unit_mg_dl, first_gain, grams_per_unit, settle
from virtual.days import Days, plan_days
from virtual.hovorka import Floats, steady_state
from virtual.living import live
from virtual.logs import happened_doses, logged_doses, logged_events, weighings
from virtual.people import PersonPlan, as_person, draw_person
from virtual.sensor import sense
from virtual.settings import VirtualSettings, shipped
from virtual.truth import by_band, dips_frame, truth_frame
from virtual.twins import reference_peaks
from virtual.ways import Body, Draws, Habits, Life, Plan


@dataclass(frozen=True, slots=True)
class CohortSpec:
    """What cohort to make. The same spec gives the same bytes.

    step_minutes    sensor step; 0: 5 minutes for two persons of three, 15 for the third
    suspension      pumps that stop their basal ahead of a low
    dip_shape       filtered | slanted | ragged
    factor_step     (day number, ratio): the factor times this from that day on
    people          given persons instead of drawn ones; then `persons` is ignored
    """

    seed: int
    persons: int = 16
    days: int = 60
    insulin_logged: bool = True
    step_minutes: int = 5
    start: date = date(2025, 1, 6)
    suspension: bool = False
    dip_shape: str = "filtered"
    factor_step: tuple[int, float] | None = None
    people: tuple[PersonPlan, ...] = ()
    settings: VirtualSettings | None = None


@dataclass(frozen=True, slots=True)
class Cohort:
    """What a program may see (`inputs`, one a person), and the truth it may not.

    truth          a treatment a row: person_id, first_dose_utc (true), logged_first_dose_utc (null: none logged), band,
                   weight_kg, reference_grams, true_factor_mg_dl_per_g (peak of the reference amount's rise, per gram,
                   as a sensor without error shows it), true_blood_factor_mg_dl_per_g, minutes_to_peak, grams (all its
                   doses), true_rise_mg_dl (peak of what they did)
    truth_bands    person_id, band, true_factor_mg_dl_per_g (median over all its treatments), treatments_n, logged_n
    truth_doses    every dose: person_id, taken_at_utc, grams, source, treatment, logged_at_utc, logged_amount
    truth_dips     person_id, at_utc, minutes, depth_mg_dl
    true_levels    by person: blood glucose by minute from the first instant of `days`
    plans          who the persons are, with the aimed factors
    """

    inputs: list[Inputs]
    truth: pl.DataFrame
    truth_bands: pl.DataFrame
    truth_doses: pl.DataFrame
    truth_dips: pl.DataFrame
    true_levels: dict[str, Floats]
    plans: tuple[PersonPlan, ...]


@dataclass(frozen=True, slots=True)
class _Lived:
    inputs: Inputs
    truth: pl.DataFrame
    doses: pl.DataFrame
    dips: pl.DataFrame
    level: Floats
    plan: PersonPlan


def cohort(spec: CohortSpec) -> Cohort:
    """The cohort of a spec; persons are drawn apart, so the first n of a larger cohort are the smaller one."""
    lived = [_person(spec, number) for number in range(len(spec.people) or spec.persons)]
    truth = pl.concat([one.truth for one in lived])
    return Cohort(
        inputs=[one.inputs for one in lived],
        truth=truth,
        truth_bands=by_band(truth),
        truth_doses=pl.concat([one.doses for one in lived]),
        truth_dips=pl.concat([one.dips for one in lived]),
        true_levels={one.plan.person_id: one.level for one in lived},
        plans=tuple(one.plan for one in lived),
    )


def _person(spec: CohortSpec, number: int) -> _Lived:
    settings = spec.settings or shipped()
    who, how, acts, shown, written = (np.random.default_rng([spec.seed, number, part]) for part in range(5))
    if spec.people:
        plan = spec.people[number]
    else:
        step = spec.step_minutes or (15 if number % 3 == 2 else 5)
        plan = draw_person(who, f"s{spec.seed}p{number:03d}", spec.start, step, settings)
    days = plan_days(how, plan, spec.start, spec.days, settings)
    draws = _draws(acts, days, settings)
    life, body = _live(plan, days, draws, spec, settings)
    sensed = sense(shown, plan.person_id, life.tissue_mg_dl, days, plan.step_minutes, spec.dip_shape, settings.sensor)
    doses = happened_doses(written, plan, life, days, settings.logging)
    events = logged_events(
        written, plan, life, days, spec.insulin_logged, sensed.begun, settings.days.activity_logged_share,
        settings.logging,
    )  # fmt: skip
    person = as_person(plan, spec.start, weighings(written, days, spec.start, settings.logging))
    inputs = Inputs(person=person, readings=sensed.readings, doses=logged_doses(plan, doses), events=events)
    peaks = reference_peaks(plan.physiology, life, _bare(days), draws, body)
    return _Lived(
        inputs, truth_frame(plan, days, peaks, doses), doses, dips_frame(plan, days, sensed), life.level_mg_dl, plan
    )


def _live(plan: PersonPlan, days: Days, draws: Draws, spec: CohortSpec, settings: VirtualSettings) -> tuple[Life, Body]:
    level = settings.days.level_mmol_l
    state, basal = steady_state(plan.physiology, plan.weight_kg, level)
    gain_times = np.ones(int(days.local_day[-1]) + 1)
    if spec.factor_step is not None:
        gain_times[spec.factor_step[0] :] = spec.factor_step[1]
    body = Body(first_gain(plan, level), gain_times, np.array(plan.absorption_min), REFERENCE_GRAMS_PER_KG)
    suspends = spec.suspension and plan.delivery is not Delivery.INJECTIONS
    habits = _habits(plan, basal / plan.weight_kg, suspends, settings)
    habits, body = settle(plan, state, _bare(days), habits, draws, body)
    return live(state, days.minutes, plan.physiology, _bare(days), habits, draws, body), body


def _bare(days: Days) -> Plan:
    return Plan(
        days.kg, days.local_day, days.band, days.awake, days.food_g, days.bolus_for_g, days.sensitivity,
        days.flux_mmol_per_kg_min, days.basal_share,
    )  # fmt: skip


def _habits(plan: PersonPlan, basal_mu_min_kg: float, suspends: bool, settings: VirtualSettings) -> Habits:
    level = settings.days.level_mmol_l
    shared = settings.treating.model_dump() | settings.days.model_dump() | settings.factor.model_dump()
    own = {
        "basal_mu_min_kg": basal_mu_min_kg,
        "grams_per_unit": grams_per_unit(plan.physiology, plan.weight_kg, level),
        "drop_per_unit_mg_dl": drop_per_unit_mg_dl(plan.physiology, plan.weight_kg, level),
        "insulin_times": 1.0,
        "grams_per_piece": plan.pieces.glucose_per_unit_g,
        "grams_per_ml": plan.liquid.glucose_per_unit_g,
        "believed_k": plan.believed_k,
        "exponent": plan.exponent,
        "food_time_min": plan.physiology.food_time_min,
        "bioavailability": plan.physiology.bioavailability,
        "awake_chance": 1.0 / settings.treating.awake_minutes_to_act,
        "asleep_chance": 1.0 / settings.treating.asleep_minutes_to_act,
        "early_chance": 1.0 / settings.treating.early_minutes_to_act,
        "early_slope": settings.treating.early_slope_mg_dl_per_min,
        "suspends": suspends,
    }
    return Habits(**{name: (shared | own)[name] for name in Habits._fields})


def _draws(rng: np.random.Generator, days: Days, settings: VirtualSettings) -> Draws:
    n, day_n = days.minutes, int(days.local_day[-1]) + 1
    treating, factor = settings.treating, settings.factor
    most = n // 60 + 1
    # Student t scaled to the wanted standard deviation.
    tail = np.sqrt((factor.event_t_df - 2.0) / factor.event_t_df)
    gain = np.exp(factor.event_sd_log * tail * rng.standard_t(factor.event_t_df, most))
    return Draws(
        chance=rng.random((n, 4)),
        amount=rng.standard_normal(n),
        awake_threshold=treating.awake_threshold_mg_dl + treating.awake_threshold_sd * rng.standard_normal(day_n),
        asleep_threshold=treating.asleep_threshold_mg_dl + treating.asleep_threshold_sd * rng.standard_normal(day_n),
        early_day=rng.random(day_n) < treating.early_days_share,
        ignored_day=rng.random(day_n) < treating.ignored_days_share,
        treatment_gain=gain,
        treatment_time=np.exp(factor.absorption_event_sd_log * rng.standard_normal(most)),
    )
