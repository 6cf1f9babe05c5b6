"""The card's amounts against a simulation that shares no code with it: the posterior drawn, the gut chain integrated.

Everything is written out again from the rules alone: the factor log-normal, treatments scattered about it by
Student's t with the stated sd, the reading spread evenly over its row, reading error and wander normal, a fall of
1 mg/dL a minute that dies away, the rise the two-compartment chain with disposal and sensor lag, as the mean over the
spread of single treatments.
"""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from support.card_people import BIG_PIECES, LIQUID, PLAN, TODAY, always, card, factors, person

from gramrise.domain.person import Dated
from gramrise.domain.units import GlucoseUnit
from gramrise.estimate.path.candidates import shipped_parameters
from gramrise.estimate.path_settings import shipped
from gramrise.estimate.settings import shipped as shipped_estimate

DRAWS = 200_000
# Four standard errors of a share near 0.5 and near 0.1 from so many draws.
MEDIAN_SLACK, CHANCE_SLACK = 0.0045, 0.0027


@cache
def integrated(form):
    """Minutes and what the sensor shows per unit of factor, by a general ODE solver; the amount's exponent.

    Single treatments spread about their form's gut time (sd of log 0.2) and disposal (0.5), each curve peaking at 1;
    what is expected is their mean, here over 9 x 7 nodes.
    """
    learned = shipped_parameters(shipped())
    minutes, lag, mean = np.arange(0, 121), learned.lag_min, np.zeros(121)
    (z, wz), (x, wx) = np.polynomial.hermite_e.hermegauss(9), np.polynomial.hermite_e.hermegauss(7)
    for at_z, weight_z in zip(z, wz / wz.sum(), strict=True):
        for at_x, weight_x in zip(x, wx / wx.sum(), strict=True):
            gut, disposal = learned.gut_min[form] * np.exp(0.2 * at_z), learned.disposal_per_min * np.exp(0.5 * at_x)

            def flow(_, y, gut=gut, disposal=disposal):
                return [-y[0] / gut, (y[0] - y[1]) / gut, y[1] / gut - disposal * y[2], (y[2] - y[3]) / lag]

            shown = solve_ivp(flow, (0, 120), [1, 0, 0, 0], t_eval=minutes, rtol=1e-6, atol=1e-9, method="LSODA").y[3]
            mean += weight_z * weight_x * shown / shown.max()
    return minutes, mean, learned.exponent


@dataclass
class Simulated:
    """Levels and readings after grams, for one row and band."""

    start: np.ndarray
    factor: np.ndarray
    error: np.ndarray
    wander: np.ndarray
    weight_kg: float
    form: str

    def rise(self, grams):
        reference = 0.15 * self.weight_kg
        return self.factor * reference * (grams / reference) ** integrated(self.form)[2]

    def level(self, grams, minute, share, falling=0.0):
        """`falling` mg/dL a minute at the reading, dying away with a time constant of 20 minutes."""
        steps = np.arange(0, minute, 0.01)
        fallen = falling * np.sum(np.exp(-steps / 20)) * 0.01
        wandered = self.start + self.error + self.wander * np.sqrt(minute / 40)
        return wandered - fallen + self.rise(grams) * share[minute]


def simulated(view, row, band, sd_log, event_sd_log, rng):
    half = 0.5 if view.unit == "mg/dL" else 0.05
    scale = 1.0 if view.unit == "mg/dL" else 18.0156
    df = shipped_estimate().levels.event_degrees_of_freedom
    scatter = rng.standard_t(df, DRAWS) * np.sqrt((df - 2) / df) * event_sd_log
    return Simulated(
        rng.uniform((row.shown_from - half) * scale, (row.shown_to + half) * scale, DRAWS),
        band.factor_mg_dl_per_g * np.exp(sd_log * rng.standard_normal(DRAWS) + scatter),
        view.rules.reading_error_sd_mg_dl * rng.standard_normal(DRAWS),
        view.rules.drift_sd_mg_dl * rng.standard_normal(DRAWS),
        view.weight_kg,
        view.source.form,
    )


# The plan orders less than a cap leaves; where it orders more, it holds.
LESS = replace(PLAN, standard_grams=9)
CARDS = {
    "own, small pieces": (card(), 0.14, 0.35),
    "own, large pieces": (card(BIG_PIECES), 0.14, 0.35),
    "own, liquid, mmol/L": (card(LIQUID, person(unit=GlucoseUnit.MMOL_L)), 0.14, 0.35),
    "own, much doubt": (card(found=factors(sd_log=0.2, event_sd_log=0.7)), 0.2, 0.7),
    "own, small child": (
        card(LIQUID, person(weights_kg=Dated(((TODAY, 14.0),))), factors(weight_kg=14.0, daytime=20.0, overnight=15.0)),
        0.14,
        0.35,
    ),
    "capped": (card(who=person(LESS), found=factors(daytime=3.5, overnight=2.5)), 0.14, 0.35),
    "target 120": (card(who=person(target_mg_dl=always(120.0))), 0.14, 0.35),
}


@pytest.mark.parametrize("name", CARDS)
def test_each_amount_is_the_least_whole_one_that_meets_both_rules_or_the_last_under_the_cap(name):
    view, sd_log, event_sd_log = CARDS[name]
    minutes, shown, _ = integrated(view.source.form)
    top = int(minutes[np.argmax(shown)])
    step = view.source.glucose_per_unit_g
    rng = np.random.default_rng(6)
    checked = 0
    for row in view.rows:
        for band, cell in zip(view.bands, row.cells, strict=True):
            if cell.state != "own":
                continue
            people = simulated(view, row, band, sd_log, event_sd_log, rng)

            def short_of(grams, people=people):
                """By how much the median and the chance rule fail; zero or less: both are met."""
                under_target = np.mean(people.level(grams, top, shown) < view.target_mg_dl) - 0.5
                under_70 = np.mean(people.level(grams, 40, shown, falling=1.0) < 70) - 0.10
                return under_target, under_70

            now, before = short_of(cell.grams), short_of(max(cell.grams - step, 1e-9))
            if cell.look_again:
                assert cell.grams + step > view.cap.grams
                assert now[0] > -MEDIAN_SLACK or now[1] > -CHANCE_SLACK
            else:
                assert now[0] <= MEDIAN_SLACK
                assert now[1] <= CHANCE_SLACK
                assert before[0] > -MEDIAN_SLACK or before[1] > -CHANCE_SLACK
            readings = people.level(cell.grams, 15, shown)
            assert cell.expect_low_mg_dl == pytest.approx(np.quantile(readings, 0.25), abs=0.2)
            assert cell.expect_high_mg_dl == pytest.approx(np.quantile(readings, 0.75), abs=0.2)
            assert abs(cell.top_minutes - minutes[np.argmax(shown)]) <= view.rules.top_step_minutes / 2 + 1
            checked += 1
    assert checked >= 4
