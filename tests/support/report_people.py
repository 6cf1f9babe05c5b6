"""Invented people for the report's tests: a week of readings drawn by hand, with findings built from the contracts."""

from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from functools import cache, cached_property
from math import exp, sin
from typing import Any
from zoneinfo import ZoneInfo

import polars as pl

from gramrise.domain import frames
from gramrise.domain.bands import TimeBand
from gramrise.domain.batch import Question
from gramrise.domain.findings import Findings, Inputs
from gramrise.domain.person import Dated, Person
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.domain.units import GlucoseUnit
from gramrise.domain.words import Delivery
from gramrise.report.weekly.numbers.build import weekly_view
from gramrise.report.weekly.numbers.card_state import CardState
from gramrise.report.weekly.numbers.view import WeeklyView

WEEK_END = date(2026, 11, 22)  # a Sunday
NOW = datetime(2026, 11, 22, 14, 0, tzinfo=UTC)
BERLIN = ZoneInfo("Europe/Berlin")
TABLETS = Source("tablets", Form.TABLET, grams_per_piece=0.92, stated_as=StatedAs.ANHYDROUS)


def person(**changed: Any) -> Person:
    """Mia, 9 years, 30 kg, in Berlin."""
    born = date(2017, 3, 4)
    mia = Person(
        person_id="mia",
        born=born,
        zone=Dated(((born, BERLIN),)),
        name="Mia Beispiel",
        weights_kg=Dated(((date(2026, 9, 1), 30.0),)),
        delivery=Dated(((born, Delivery.PUMP),)),
        sources=Dated(((born, (TABLETS,)),)),
    )
    return replace(mia, **changed)


def noon(week_end: date = WEEK_END, zone: ZoneInfo = BERLIN) -> datetime:
    """Noon at which the week ends, UTC."""
    return datetime(week_end.year, week_end.month, week_end.day, 12, tzinfo=zone).astimezone(UTC)


def a_week(
    who: Person | None = None,
    low_hours: tuple[float, ...] = (14.2, 38.5, 62.0, 110.3, 133.0),
    week_end: date = WEEK_END,
) -> tuple[Inputs, Findings]:
    """Readings every 5 minutes with a low at each of `low_hours` after the week's first noon, most of them treated."""
    who = who or person()
    zone = who.zone.latest() or BERLIN
    end = noon(week_end, zone)
    start = end - timedelta(days=7)
    lows = [start + timedelta(hours=hour) for hour in low_hours]
    instants = [start + timedelta(minutes=5 * i) for i in range(7 * 24 * 12)]
    missing = (start + timedelta(hours=80), start + timedelta(hours=83))
    readings = [_reading(who, at, lows) for at in instants if not missing[0] <= at < missing[1]]
    treated = [low for i, low in enumerate(lows) if i % 4 != 3]
    inputs = Inputs(
        who,
        readings=pl.DataFrame(readings, schema=frames.READINGS.schema, orient="row"),
        doses=_frame(frames.DOSES, [_dose(who, at + timedelta(minutes=8), 5.52) for at in treated]),
    )
    found = Findings(
        as_of_utc=NOW,
        lows=_frame(frames.LOWS, [_low(who, at, i, at in treated) for i, at in enumerate(lows)]),
        treatments=_frame(frames.TREATMENTS, [_treatment(who, at) for at in treated]),
        pairings=_frame(frames.PAIRINGS, [_pairing(who, at, i) for i, at in enumerate(treated)]),
        paths=_frame(frames.PATHS, [row for at in treated for row in _path(who, at)]),
        factors=factors(who),
        log_next="food",
    )
    return inputs, found


def factors(who: Person, scale: float = 1.0) -> pl.DataFrame:
    rows = [("daytime", 7.1, 5.6, 8.8, 14, "own"), ("overnight", 11.6, 7.9, 16.4, 3, "thin")]
    return _frame(
        frames.FACTORS,
        [
            {
                "person_id": who.person_id,
                "band": band,
                "as_of_utc": NOW,
                "weight_kg": 30.0,
                "factor_mg_dl_per_g": middle * scale,
                "p05_factor_mg_dl_per_g": low * scale,
                "p95_factor_mg_dl_per_g": high * scale,
                "starting_mg_dl_per_g": 317.5 / 30,
                "weight_adjusted_mg_dl_kg_per_g": middle * scale * 30,
                "pairings_used": used,
                "state": state,
                "sd_log": 0.14,
                "sd_log_lasting": 0.1,
                "event_sd_log": 0.45,
            }
            for band, middle, low, high, used, state in rows
        ],
    )


def _frame(contract: frames.FrameContract, rows: list[dict[str, Any]]) -> pl.DataFrame:
    whole = [{name: row.get(name) for name in contract.schema} for row in rows]
    return contract.check(pl.DataFrame(whole, schema=contract.schema))


def _level(at: datetime, lows: list[datetime]) -> float:
    hour = at.timestamp() / 3600
    level = 135 + 38 * sin(hour / 2.3) + 17 * sin(hour / 0.9)
    for low in lows:
        minutes = (at - low).total_seconds() / 60
        level = level + (58 - level) * exp(-(((minutes - 8) / 42) ** 2)) if minutes < 60 else level
    return round(level)


def _reading(who: Person, at: datetime, lows: list[datetime]) -> tuple[object, ...]:
    return (who.person_id, at, _level(at, lows), "in", None)


def _dose(who: Person, at: datetime, grams: float) -> dict[str, Any]:
    return {
        "person_id": who.person_id, "taken_at_utc": at, "source": "tablets", "ordinal": 1, "form": "tablet",
        "amount": 6.0, "amount_unit": "piece", "grams": grams, "may_be_weaker": False, "remarks": [], "origin": "file",
        "noticed": "",
    }  # fmt: skip


def _low(who: Person, at: datetime, index: int, treated: bool) -> dict[str, Any]:
    return {
        "person_id": who.person_id, "start_utc": at - timedelta(minutes=10), "end_utc": at + timedelta(minutes=25),
        "nadir_mg_dl": 58.0 - index % 7, "nadir_at_utc": at, "level": 2 if index % 7 == 6 else 1, "prolonged": False,
        "one_reading": False, "below_range": False, "ended_by_gap": False,
        "outcome": "treated" if treated else "nothing_logged", "probability_treated": 1.0 if treated else 0.81,
        "probability_dip": 0.02, "grams": 5.52 if treated else 0.0,
        "first_dose_utc": at + timedelta(minutes=8) if treated else None,
        "minutes_to_glucose": 18.0 if treated else None, "minutes_to_70": 14.0, "above_180_within_2h": index == 2,
        "second_amount": False,
        "evidence": ["glucose_logged"] if treated else ["nothing_in_log", "rose_like_treated"],
    }  # fmt: skip


def _treatment(who: Person, at: datetime) -> dict[str, Any]:
    first = at + timedelta(minutes=8)
    return {
        "person_id": who.person_id, "first_dose_utc": first, "last_dose_utc": first, "class": "for_low", "doses_n": 1,
        "grams": 5.52, "sources": ["tablets"], "form": "tablet", "band": "overnight",
        "low_start_utc": at - timedelta(minutes=10),
    }  # fmt: skip


def _pairing(who: Person, at: datetime, index: int) -> dict[str, Any]:
    first = at + timedelta(minutes=8)
    aside = index % 3 == 2
    return {
        **_treatment(who, at), "verdict": "set_aside" if aside else "used",
        "reasons": ["mixed_with_food"] if aside else ["insulin_near"] if index == 0 else [],
        "window_from_utc": first - timedelta(minutes=90), "window_to_utc": first + timedelta(minutes=90),
        "start_seen_mg_dl": 59.0, "rise_seen_mg_dl": 41.0, "slope_mg_dl_per_min": -1.9 if index % 2 else -0.3,
        "factor_mg_dl_per_g": None if aside else 7.4, "factor_sd_mg_dl_per_g": None if aside else 2.0,
    }  # fmt: skip


def _path(who: Person, at: datetime) -> list[dict[str, Any]]:
    first = at + timedelta(minutes=8)
    return [
        {
            "person_id": who.person_id, "first_dose_utc": first, "at_utc": first + timedelta(minutes=5 * i),
            "untreated_mg_dl": 58.0 - 0.6 * i, "untreated_sd_mg_dl": 6.0, "fitted_mg_dl": 60.0,
        }
        for i in range(-6, 18)
    ]  # fmt: skip


@dataclass
class Case:
    """One invented person's week and what else the view is made from."""

    inputs: Inputs
    findings: Findings
    week_end: date = WEEK_END
    now_utc: datetime = NOW
    more: dict[str, Any] = field(default_factory=dict)

    @cached_property
    def _view(self) -> WeeklyView:
        return self.fresh_view()

    def view(self) -> WeeklyView:
        """The view, made once: it is frozen, so tests may share it."""
        return self._view

    def fresh_view(self) -> WeeklyView:
        return weekly_view(self.inputs, self.findings, week_end=self.week_end, now_utc=self.now_utc, **self.more)


BORN = date(2017, 3, 4)
CARD = CardState(number=12, made_on=date(2026, 10, 1), valid_until=date(2027, 1, 1))
FOUR_BANDS = (
    TimeBand("before school", time(5), time(8)),
    TimeBand("school", time(8), time(16)),
    TimeBand("evening", time(16), time(22)),
    TimeBand("overnight", time(22), time(5)),
)
HOSTILE = '<script>alert(1)</script> #panic() *x* _y_ $z$ @w \\ & "q" {name} ' + "Maximilian-Ferdinand " * 4


@cache
def everyone() -> dict[str, Case]:
    """The people whom the report must get right, by what is hard about them."""
    return {
        "plain": _plain(),
        "german_mmol_60_lows": _german(),
        "right_to_left_name": Case(*a_week(person(name="مريم العبدالله")), more={"cards": (CARD,)}),
        "across_the_date_line": Case(*a_week(person(zone=Dated(((BORN, ZoneInfo("Pacific/Kiritimati")),))))),
        "no_lows": Case(*a_week(low_hours=())),
        "no_data": _no_data(),
        "three_automated_unknown_strength": _three(),
        "hostile_name": _hostile(),
        "four_bands": Case(*a_week(person(bands=Dated(((BORN, FOUR_BANDS),))))),
        "clock_change": _clock_change(),
    }


def _plain() -> Case:
    who = person()
    inputs, found = a_week(who)
    return Case(inputs, found, more={"cards": (CARD,), "earlier": replace(found, factors=factors(who, 1.02))})


def _german() -> Case:
    who = person(language="de", unit=GlucoseUnit.MMOL_L, name="Kim Beispiel")
    inputs, found = a_week(who, low_hours=tuple(2.7 * k + 1 for k in range(60)))
    return Case(inputs, found, more={"earlier": replace(found, factors=factors(who, 1.2))})


def _no_data() -> Case:
    who = person(name="", weights_kg=Dated(), language="de")
    return Case(Inputs(who), Findings(as_of_utc=NOW))


def _three() -> Case:
    who = person(
        born=date(2023, 5, 1),
        weights_kg=Dated(((date(2026, 9, 1), 14.0),)),
        delivery=Dated(((BORN, Delivery.AUTOMATED),)),
    )
    inputs, found = a_week(who)
    unknown = pl.lit(None, dtype=pl.Float64).alias("grams")
    found = replace(
        found,
        lows=found.lows.with_columns(unknown),
        treatments=found.treatments.with_columns(unknown),
        pairings=found.pairings.with_columns(
            unknown, verdict=pl.lit("set_aside"), reasons=pl.lit(["amount_unknown"]), factor_mg_dl_per_g=pl.lit(None)
        ),
        factors=found.factors.with_columns(state=pl.lit("withheld"), pairings_used=pl.lit(0, dtype=pl.Int32)),
    )
    return Case(replace(inputs, doses=inputs.doses.with_columns(unknown, may_be_weaker=pl.lit(True))), found)


def _hostile() -> Case:
    about = {"taken_at_utc": "2026-11-20T02:10:00+00:00", "text": "3 #panic() *b* <b>", "amount": 3.0}
    asked = [Question("mia", "bare_amount", str(k), "asked", (), about) for k in range(7)]
    void = CARD.model_copy(update={"void_because": ("weight", "delivery")})
    return Case(*a_week(person(name=HOSTILE)), more={"cards": (void,), "questions": asked})


def _clock_change() -> Case:
    week_end = date(2026, 10, 26)  # the clock goes back in Berlin on the 25th
    inputs, found = a_week(week_end=week_end)
    return Case(inputs, found, week_end, datetime(2026, 10, 26, 14, tzinfo=UTC))
