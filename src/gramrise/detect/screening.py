"""Each treatment judged before its rise is known: the windows that may be read, and every reason that bites."""

from dataclasses import dataclass

import numpy as np
import polars as pl

from gramrise.detect.seen import Seen
from gramrise.detect.settings import DetectSettings
from gramrise.detect.surroundings import Happenings
from gramrise.detect.trace import US_PER_MINUTE, Flags, Instants, Numbers, Trace
from gramrise.detect.treatments import Chains, instant
from gramrise.domain.frames import SCREENED
from gramrise.domain.insulin import insulin_on_board
from gramrise.domain.person import Person
from gramrise.domain.reasons import REASONS, Effect, Verdict
from gramrise.domain.words import EventKind

US_PER_HOUR = 60 * US_PER_MINUTE


@dataclass(frozen=True, slots=True)
class Offered:
    """What is to be screened: one person's treatments with everything known about them."""

    person: Person
    doses: pl.DataFrame
    chains: Chains
    low: Instants  # row of the low of each treatment's first dose, -1 for none
    one_reading: Flags  # of each low
    doubted: Flags  # sensor in doubt at each treatment
    seen: Seen


@dataclass(frozen=True, slots=True)
class Windows:
    """Readable span of each treatment, [from, to), and what cut it."""

    from_us: Instants
    to_us: Instants
    cut_by_food: Flags
    broken_off: Flags


def windows_of(trace: Trace, chains: Chains, food: Happenings, settings: DetectSettings) -> Windows:
    """Run-in and response of each treatment: cut by earlier and later glucose, food eaten after, and gaps."""
    first_us, last_us = chains.first_us, chains.last_us
    before, after = (int(m * US_PER_MINUTE) for m in (settings.run_in_minutes, settings.response_minutes))
    settled = np.full(len(chains), np.iinfo(np.int64).min)
    settled[1:] = last_us[:-1] + int(settings.earlier_glucose_minutes * US_PER_MINUTE)
    following = np.append(first_us[1:], np.iinfo(np.int64).max)[: len(chains)]
    from_us = np.maximum(first_us - before, settled)
    whole = np.minimum(last_us + after, following)
    beside = int(settings.with_food_minutes * US_PER_MINUTE)
    until_food = food.first_after(first_us + beside + 1, whole)
    gap_before, gap_after = _gaps_around(trace, first_us)
    return Windows(
        from_us=np.maximum(from_us, gap_before),
        to_us=np.minimum(until_food, gap_after),
        cut_by_food=until_food < whole,
        broken_off=gap_after < until_food,
    )


def _gaps_around(trace: Trace, at_us: Instants) -> tuple[Instants, Instants]:
    """Where the unbroken stretch around each instant begins, and where it breaks off (the instant where unseen)."""
    if len(trace) == 0:
        return at_us, at_us
    begins = np.flatnonzero(trace.starts)
    last = np.append(begins[1:], len(trace)) - 1
    row = trace.before(at_us)
    stretch = np.maximum(np.searchsorted(begins, row, "right") - 1, 0)
    begin_us = trace.at_us[begins[stretch]]
    end_us = trace.at_us[last[stretch]] + (trace.stands_minutes[last[stretch]] * US_PER_MINUTE).astype(np.int64)
    watched = (row >= 0) & (at_us <= trace.at_us[last[stretch]] + trace.gap_us[last[stretch]])
    return np.where(watched, begin_us, at_us), np.where(watched, np.maximum(end_us, at_us), at_us)


def screen(
    offered: Offered,
    treatments: pl.DataFrame,
    trace: Trace,
    around: dict[EventKind, Happenings],
    settings: DetectSettings,
) -> pl.DataFrame:
    """SCREENED: kept and set aside together, one row a treatment, every reason with its effect."""
    if treatments.height == 0:
        return SCREENED.empty()
    chains, seen = offered.chains, offered.seen
    windows = windows_of(trace, chains, around[EventKind.FOOD], settings)
    on_board = on_board_units(chains.first_us, around[EventKind.INSULIN], settings)
    too_short = windows.to_us - chains.first_us < int(settings.least_response_minutes * US_PER_MINUTE)
    bites = reasons_of(offered, windows, trace, around, settings, too_short)
    named = [[code for code in REASONS if bites[code][nth]] for nth in range(len(chains))]
    verdicts = [_verdict(codes, bool(short)) for codes, short in zip(named, too_short, strict=True)]
    return treatments.with_columns(
        pl.Series("verdict", verdicts, dtype=pl.String),
        pl.Series("reasons", named, dtype=pl.List(pl.String)),
        pl.Series("window_from_utc", [instant(at) for at in windows.from_us], dtype=SCREENED.schema["window_from_utc"]),
        pl.Series("window_to_utc", [instant(at) for at in windows.to_us], dtype=SCREENED.schema["window_to_utc"]),
        start_seen_mg_dl=pl.Series(seen.start_mg_dl, nan_to_null=True),
        rise_seen_mg_dl=pl.Series(seen.rise_mg_dl, nan_to_null=True),
        slope_mg_dl_per_min=pl.Series(seen.slope_mg_dl_per_min, nan_to_null=True),
        insulin_on_board_units=pl.Series(on_board, nan_to_null=True),
    )


def _verdict(codes: list[str], too_short: bool) -> str:
    effects = {REASONS[code].effect for code in codes}
    aside = Effect.SET_ASIDE in effects or (Effect.CUT in effects and too_short)
    return str(Verdict.SET_ASIDE if aside else Verdict.USED)


def on_board_units(at_us: Instants, insulin: Happenings, settings: DetectSettings) -> Numbers:
    """Rapid insulin still acting, U; NaN where none was logged for a day, so that the log may not be kept."""
    kept = insulin.any_within(at_us - int(settings.insulin_log_hours * US_PER_HOUR), at_us)
    return np.where(kept, insulin_on_board(insulin.at_us, insulin.amount, at_us), np.nan)


def reasons_of(
    offered: Offered,
    windows: Windows,
    trace: Trace,
    around: dict[EventKind, Happenings],
    settings: DetectSettings,
    too_short: Flags,
) -> dict[str, Flags]:
    """Which reason bites on which treatment: one row of flags for every code of the table."""
    flags = {code: np.zeros(len(offered.chains), dtype=np.bool_) for code in REASONS}
    flags |= _logged_beside(offered, windows, around, settings)
    flags |= _seen_in_the_trace(offered, windows, trace, settings, too_short)
    flags |= _known_of_the_person(offered, settings)
    for code, told in _told_by_the_log(offered).items():
        flags[code] = flags[code] | told
    return flags


def _logged_beside(
    offered: Offered, windows: Windows, around: dict[EventKind, Happenings], settings: DetectSettings
) -> dict[str, Flags]:
    first_us, last_us = offered.chains.first_us, offered.chains.last_us
    years = np.array([offered.person.age_years(instant(at).date()) for at in first_us])
    child = years < settings.child_below_years
    acting = np.where(child, settings.insulin_hours_before_child, settings.insulin_hours_before)
    beside = int(settings.with_food_minutes * US_PER_MINUTE)
    end_us = windows.to_us - 1

    def near(kind: EventKind, hours_before: float | Numbers) -> Flags:
        since = first_us - (np.asarray(hours_before) * US_PER_HOUR).astype(np.int64)
        return around[kind].any_within(since, np.maximum(end_us, first_us))

    food = around[EventKind.FOOD]
    return {
        "insulin_near": near(EventKind.INSULIN, acting),
        "food_before": food.any_within(first_us - int(settings.food_hours_before * US_PER_HOUR), first_us - beside - 1),
        "activity_near": near(EventKind.ACTIVITY, settings.activity_hours_before),
        "illness_near": near(EventKind.ILLNESS, settings.illness_hours_before),
        "cut_short": windows.cut_by_food,
        "mixed_with_food": food.any_within(first_us - beside, first_us + beside),
        "vomited": around[EventKind.VOMITED].any_within(
            first_us - int(settings.vomited_hours_before * US_PER_HOUR),
            last_us + int(settings.response_minutes * US_PER_MINUTE),
        ),
        "glucagon_near": near(EventKind.GLUCAGON, settings.glucagon_hours_before),
        "sensor_new": near(EventKind.SENSOR_START, settings.sensor_new_hours),
    }


def _seen_in_the_trace(
    offered: Offered, windows: Windows, trace: Trace, settings: DetectSettings, too_short: Flags
) -> dict[str, Flags]:
    seen, first_us = offered.seen, offered.chains.first_us
    runs_in = np.searchsorted(trace.at_us, first_us, "right") - np.searchsorted(trace.at_us, windows.from_us, "left")
    blind = np.isnan(seen.start_mg_dl)
    lows_seen = np.append(offered.one_reading, False)
    return {
        "one_reading": lows_seen[offered.low],
        "lag_unsure": seen.slope_mg_dl_per_min <= -settings.fast_fall_mg_dl_per_min,
        "time_doubtful": (seen.risen_before_mg_dl >= settings.early_rise_mg_dl)
        & (seen.lowest_before_mg_dl <= settings.early_rise_below_mg_dl),
        "gap_in_readings": windows.broken_off & too_short,
        "below_sensor_range": _all_below_range(trace, first_us, windows.to_us),
        "no_run_in": blind | (runs_in < settings.run_in_readings),
        "sensor_doubt": offered.doubted,
    }


def _all_below_range(trace: Trace, from_us: Instants, to_us: Instants) -> Flags:
    """Whether there are readings in [from, to) and the sensor showed 'below range' in all of them."""
    first, past = trace.first_at(from_us), trace.first_at(to_us)
    count = np.concatenate([[0], np.cumsum(trace.below_range)])
    return np.asarray((past > first) & (count[past] - count[first] == past - first), dtype=np.bool_)


def _known_of_the_person(offered: Offered, settings: DetectSettings) -> dict[str, Flags]:
    person, chains = offered.person, offered.chains
    zone = person.zone_now()
    days = [instant(at).astimezone(zone).date() for at in chains.first_us]
    targets = np.array([person.target_mg_dl.on_or_first(day) or settings.target_mg_dl for day in days])
    changes = [day for day, _ in person.delivery.entries[1:]]
    lately = [any(0 <= (day - changed).days < settings.delivery_changed_days for changed in changes) for day in days]
    return {
        "many_doses": chains.past - chains.first > 1,
        "started_above_target": offered.seen.start_mg_dl >= targets,
        "delivery_changed": np.array(lately, dtype=np.bool_),
        "weight_unknown": np.full(len(chains), not person.weights_kg.entries),
    }


def _told_by_the_log(offered: Offered) -> dict[str, Flags]:
    """Reasons that stand in the log itself: an amount that is missing, remarks on any of the treatment's doses."""
    chains = offered.chains
    unknown = np.isnan(offered.doses["grams"].to_numpy().astype(np.float64))
    told = {"amount_unknown": _any_of_chain(unknown, chains)}
    remarks = offered.doses["remarks"].to_list()
    for code in sorted({code for several in remarks for code in several or () if code in REASONS}):
        said = np.array([code in (several or ()) for several in remarks], dtype=np.bool_)
        told[code] = told.get(code, False) | _any_of_chain(said, chains)
    return told


def _any_of_chain(of_dose: Flags, chains: Chains) -> Flags:
    count = np.concatenate([[0], np.cumsum(of_dose)])
    return np.asarray(count[chains.past] > count[chains.first], dtype=np.bool_)
