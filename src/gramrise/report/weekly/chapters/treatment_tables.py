"""Tables of the lows and of other glucose given, each row with its sentence."""

from gramrise.domain.reasons import REASONS, Effect
from gramrise.report.weekly.chapters.document import Block, Heading, Paragraph, Row, Table
from gramrise.report.weekly.numbers.view import LowView, Measured, WeeklyView
from gramrise.report.weekly.settings import DEFAULT, ReportSettings
from gramrise.report.words import Words

# Levels named in the sentences, mg/dL: the low's bound (consensus) and the bound of "too high after".
LOW_BELOW = 70.0
HIGH_ABOVE = 180.0
# With more bands the factors run on to a page of their own, and the lows follow them there.
BANDS_ON_A_PAGE = 2
# Our choice: slower than this in either direction is called steady, mg/dL a minute.
STEADY_BELOW = 0.5
# What can set a treatment aside.
DECISIVE = frozenset({Effect.SET_ASIDE, Effect.CUT})
# Evidence that only repeats the outcome's sentence.
SAID_BY_OUTCOME = frozenset(
    {"glucose_logged", "glucose_untimed", "food_logged", "nothing_in_log", "sensor_new", "looks_like_dip"}
)
# What besides lying on it speaks against the sensor.
SENSOR_SHOWN_WRONG = frozenset({"finger_disagreed", "two_traces"})
# What stands where nothing is known.
NOTHING = "–"


def lows_chapter(view: WeeklyView, words: Words) -> list[Block]:
    blocks: list[Block] = [Heading(words.say("title.lows"), new_page=len(view.factors) <= BANDS_ON_A_PAGE)]
    if not view.lows:
        code = "low.none" if view.coverage.readings_n else "low.no_readings"
        return [*blocks, Paragraph(words.say(code))]
    if view.lows_annex:
        count = len(view.lows) + len(view.lows_annex)
        blocks.append(Paragraph(words.say("low.worst", count=count, shown=len(view.lows)), quiet=True))
    how = Paragraph(words.say("low.columns", level=words.level(LOW_BELOW)), quiet=True)
    return [*blocks, _lows_table(words.say("title.lows"), view.lows, words), how]


def annex_chapter(view: WeeklyView, words: Words, settings: ReportSettings) -> list[Block]:
    """What found no row before: the other lows, then the other glucose given; nothing is left out."""
    blocks: list[Block] = []
    if view.lows_annex:
        title = words.say("title.annex")
        blocks += [Heading(title, new_page=True), _lows_table(title, view.lows_annex, words, brief=True)]
    rest = view.given[settings.most_given_rows :]
    if rest:
        title = words.say("title.given_annex")
        blocks += [Heading(title, new_page=not blocks), _given_table(title, rest, words)]
    return blocks


def given_chapter(view: WeeklyView, words: Words, settings: ReportSettings) -> list[Block]:
    title = words.say("title.given")
    if not view.given:
        return [Paragraph(words.say("given.none"), quiet=True)]
    shown = view.given[: settings.most_given_rows]
    rest = len(view.given) - len(shown)
    said = [words.say("given.columns", first=round(view.rise_from_minutes), last=round(view.rise_to_minutes))]
    said += [words.say("given.more", count=rest)] if rest else []
    return [Heading(title), _given_table(title, shown, words), Paragraph(" ".join(said), quiet=True)]


def _given_table(title: str, given: tuple[Measured, ...], words: Words) -> Table:
    head = tuple(words.say(f"column.{name}") for name in ("when", "grams", "start", "rise"))
    return Table(title, head, (False, True, True, True), tuple(_given_row(one, words) for one in given))


def _lows_table(title: str, lows: tuple[LowView, ...], words: Words, *, brief: bool = False) -> Table:
    """A row for each low; a brief one says what became of the low and whether its treatment counts, and no more."""
    columns = ("when", "lowest", "minutes_low", "grams", "after", "back")
    head = tuple(words.say(f"column.{name}", level=words.level(LOW_BELOW)) for name in columns)
    return Table(title, head, (False, *[True] * 5), tuple(_low_row(low, words, brief) for low in lows))


def _low_row(low: LowView, words: Words, brief: bool) -> Row:
    lowest = words.say("low.below_range") if low.below_range else words.level(low.nadir_mg_dl)
    cells = (
        words.when(low.start_utc),
        lowest,
        words.say("low.open") if low.minutes is None else words.number(low.minutes),
        _grams(low.grams, words) if low.minutes_to_glucose is not None else NOTHING,
        _minutes(low.minutes_to_glucose, words),
        _minutes(low.minutes_to_70, words),
    )
    return Row(cells, " ".join(part for part in (_brief_sentences if brief else _low_sentences)(low, words) if part))


def _brief_sentences(low: LowView, words: Words) -> list[str]:
    said = outcome_sentences(low, words)[:1]
    return said + (verdict_sentences(low.treatment, words)[:1] if low.treatment else [])


def _low_sentences(low: LowView, words: Words) -> list[str]:
    said = outcome_sentences(low, words)
    if low.treatment:
        said += _taken(low.treatment, words)
    if low.prolonged:
        said.append(words.say("low.prolonged"))
    if low.treatment:
        said.append(_slope(low.treatment.slope_mg_dl_per_min, words))
    if low.second_amount:
        said.append(words.say("low.second_amount"))
    if low.above_180_within_2h:
        said.append(words.say("low.above_180", level=words.level(HIGH_ABOVE)))
    if low.within_utc:
        said.append(words.say("low.within", when=words.when(low.within_utc)))
    return said + (verdict_sentences(low.treatment, words) if low.treatment else [])


def outcome_sentences(low: LowView, words: Words) -> list[str]:
    """What became of the low and what that rests on; how likely unlogged glucose is, where it was judged.

    Nothing where the row's columns tell it: glucose was given and written down. A low is called the sensor's only on
    the evidence of `sensor_doubt`, a finger-stick, or two sensors in one trace.
    """
    if low.lain_upon:
        return [words.say("low.lain_upon")]
    doubted = low.outcome == "sensor_doubt" and not SENSOR_SHOWN_WRONG & set(low.evidence)
    told_by_columns = low.outcome == "treated" and low.treatment is not None
    said = [] if told_by_columns else [words.told("outcome", "nothing_logged" if doubted else low.outcome)]
    said += [words.told("evidence", code) for code in low.evidence if code not in SAID_BY_OUTCOME]
    if low.outcome == "nothing_logged" and low.probability_treated is not None:
        said.append(words.say("low.probability", probability=words.chance(low.probability_treated)))
    return said


def _untold_rise(treatment: Measured, words: Words, settings: ReportSettings) -> list[str]:
    """Where the level rose much less than the glucose raised it: how much lower it would have been without."""
    seen, estimated = treatment.rise_seen_mg_dl, treatment.rise_estimated_mg_dl
    if seen is None or estimated is None or seen >= settings.explained_below_share * estimated:
        return []
    return [words.say("low.would_be_lower", lower=words.level(estimated))]


def verdict_sentences(treatment: Measured, words: Words, settings: ReportSettings = DEFAULT) -> list[str]:
    """Whether the treatment counts, and every reason that bites, those that decided first."""
    decisive = DECISIVE if treatment.verdict == "set_aside" else frozenset({Effect.WIDEN, Effect.CUT})
    deciding = [words.told("reason", code) for code in treatment.reasons if REASONS[code].effect in decisive]
    other = [words.told("reason", code) for code in treatment.reasons if REASONS[code].effect not in decisive]
    if treatment.verdict == "set_aside":
        first = words.say("low.set_aside", reasons=" ".join(deciding))
        return [first, words.say("low.also", reasons=" ".join(other))] if other else [first]
    factor = treatment.factor_mg_dl_per_g
    said = [words.say("low.counts_unmeasured")]
    if factor is not None and factor > 0:
        said = [words.say("low.counts", factor=words.factor(factor)[0])]
        said += _untold_rise(treatment, words, settings)
    said += other
    return [*said, words.say("low.less_sure", reasons=" ".join(deciding))] if deciding else said


def _given_row(one: Measured, words: Words) -> Row:
    cells = (
        words.when(one.first_dose_utc),
        _grams(one.grams, words),
        NOTHING if one.start_seen_mg_dl is None else words.level(one.start_seen_mg_dl),
        NOTHING if one.rise_seen_mg_dl is None else words.level(one.rise_seen_mg_dl),
    )
    said = [_why_given(one, words), *_taken(one, words), _slope(one.slope_mg_dl_per_min, words)]
    if one.above_180_within_2h:
        said.append(words.say("low.above_180", level=words.level(HIGH_ABOVE)))
    said += verdict_sentences(one, words)
    return Row(cells, " ".join(part for part in said if part))


def _why_given(one: Measured, words: Words) -> str:
    if one.again_in_low_utc is not None:
        return words.say("given.again", when=words.when(one.again_in_low_utc))
    code = "given.given_early" if one.treatment_class == "given_early" else "given.other"
    return words.say(code, level=words.level(LOW_BELOW))


def _taken(treatment: Measured, words: Words) -> list[str]:
    """From which sources, and who noticed that it was needed."""
    said = [words.say("low.taken", sources=", ".join(treatment.sources))] if treatment.sources else []
    return said + [words.say(f"noticed.{who}") for who in treatment.noticed]


def _grams(grams: float | None, words: Words) -> str:
    return words.say("strips.unknown_grams") if grams is None else words.grams(grams)


def _minutes(minutes: float | None, words: Words) -> str:
    return NOTHING if minutes is None else words.number(minutes)


def _slope(mg_dl_per_min: float | None, words: Words) -> str:
    if mg_dl_per_min is None:
        return ""
    if abs(mg_dl_per_min) < STEADY_BELOW:
        return words.say("low.steady")
    return words.say("low.falling" if mg_dl_per_min < 0 else "low.rising", slope=words.slope(mg_dl_per_min))
