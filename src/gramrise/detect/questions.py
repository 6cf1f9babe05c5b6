"""What only a person can say about a log: were its amounts pieces or grams?"""

from math import exp, log, sqrt
from statistics import median

import polars as pl

from gramrise.detect.settings import DetectSettings
from gramrise.domain.batch import Question
from gramrise.domain.person import Person
from gramrise.domain.reasons import Verdict
from gramrise.domain.starting import EVENT_SD_LOG, TRIALS

KIND = "pieces_or_grams"


def questions_of(
    person: Person, screened: pl.DataFrame, doses: pl.DataFrame, settings: DetectSettings
) -> tuple[Question, ...]:
    """One question for each log whose responses sit at 1/4, 1/2, 2 or 4 times the person's others.

    A log is all doses of one source, unit and origin. It is compared with other logs in the time band where it holds
    most, as day and night may differ by two. Where no other log reaches there, what trials support stands in,
    and then only 1/4 and 4 are asked about: half and twice are within what people differ by.
    """
    responses = _responses(person, screened, doses)
    extremes = (min(settings.mixed_up_ratios), max(settings.mixed_up_ratios))
    asked = []
    for name in sorted(set(responses["log"])):
        own = responses.filter(pl.col("log") == name)
        band = own["band"].mode().sort()[0]
        others = responses.filter((pl.col("log") != name) & (pl.col("band") == band))["log_response"].to_list()
        enough = len(others) >= settings.mixed_up_treatments
        mine = own.filter(pl.col("band") == band)["log_response"].to_list() if enough else own["log_response"].to_list()
        if len(mine) < settings.mixed_up_treatments:
            continue
        ratio = median(mine) - (median(others) if enough else log(TRIALS.k_mg_dl_kg_per_g))
        near = _near(ratio, len(mine), len(others) if enough else len(mine), settings)
        if near is not None and (enough or near in extremes):
            asked.append(_question(person, name, ratio, near, len(mine)))
    return tuple(asked)


def _responses(person: Person, screened: pl.DataFrame, doses: pl.DataFrame) -> pl.DataFrame:
    """log (its name), band and log_response (log of rise seen x weight / grams) of used treatments."""
    offset = person.zone_now()
    used = screened.filter(
        (pl.col("verdict") == str(Verdict.USED)) & (pl.col("rise_seen_mg_dl") > 0) & (pl.col("grams") > 0)
    )
    named = doses.select(
        pl.col("taken_at_utc").alias("first_dose_utc"),
        pl.concat_str("source", "amount_unit", "origin", separator="|").alias("log"),
    ).unique("first_dose_utc", keep="first", maintain_order=True)
    rows = used.join(named.sort("first_dose_utc"), on="first_dose_utc", how="inner", maintain_order="left")
    kg = [person.weights_kg.on_or_first(at.astimezone(offset).date()) for at in rows["first_dose_utc"]]
    return (
        rows.with_columns(pl.Series("kg", kg, dtype=pl.Float64))
        .filter((pl.col("kg") > 0) & (pl.col("sources").list.len() == 1))
        .select("log", "band", log_response=(pl.col("rise_seen_mg_dl") * pl.col("kg") / pl.col("grams")).log())
    )


def _near(log_ratio: float, own_n: int, others_n: int, settings: DetectSettings) -> float | None:
    """The mix-up a ratio of medians sits at; None when at none, or when chance alone could bring it there."""
    # The spread of a median is 1.25 times that of a mean (normal scatter, large samples).
    spread = 1.25 * EVENT_SD_LOG * sqrt(1 / own_n + 1 / others_n)
    near = min(settings.mixed_up_ratios, key=lambda known: abs(log_ratio - log(known)))
    sits = abs(log_ratio - log(near)) <= log(1 + settings.mixed_up_share)
    return near if sits and abs(log_ratio) >= settings.mixed_up_spreads * spread else None


def _question(person: Person, name: str, log_ratio: float, near: float, treatments_n: int) -> Question:
    source, unit, origin = name.split("|")
    times = {0.25: "a quarter of", 0.5: "half", 2.0: "twice", 4.0: "four times"}.get(near, f"{near:g} times")
    shown = f"of {source}" if source else "logged without a source"
    return Question(
        person_id=person.person_id,
        kind=KIND,
        key=name,
        sentence=(
            f"1 g {shown} seems to raise {times} what 1 g usually does ({treatments_n} treatments). "
            "Are these amounts pieces or grams?"
        ),
        answers=("pieces", "grams") if near > 1 else ("grams", "pieces"),
        about={
            "source": source,
            "amount_unit": unit,
            "origin": origin,
            "ratio": round(exp(log_ratio), 2),
            "near": near,
            "treatments_n": treatments_n,
        },
    )
