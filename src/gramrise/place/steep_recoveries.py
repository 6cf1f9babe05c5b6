"""Recoveries of a silent log that look as after glucose: a probability each, asked about and never taught.

Where nobody logs anything, the odds of the detector (`probability_treated`, from all persons' recoveries) are joined
with how steep the turn is against this person's own turns. The two judge the same trace, so each counts with a weight.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import exp, log
from typing import Final

import numpy as np
import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.domain.person import Person
from gramrise.domain.questions import Question
from gramrise.domain.starting import STARTING_TABLES
from gramrise.domain.words import Outcome
from gramrise.place.evidence import TAIL_DEGREES
from gramrise.place.recoveries import OwnTurns, Recovery
from gramrise.place.settings import PlaceSettings

LOOKS_TREATED: Final = "looks_treated"
ANSWERS: Final = ("glucose", "food", "nothing", "unknown")
WORDS: Final = {
    "glucose": "yes, glucose was given; nobody wrote down how much",
    "food": "something else was eaten",
    "nothing": "nothing was given",
    "unknown": "nobody knows",
}
ANSWERED: Final = "answer"
# A low's turn may be found a reading or two outside of it.
NEAR: Final = timedelta(minutes=10)
# No probability of a recovery is surer than this: what nobody wrote down, readings cannot prove.
SUREST: Final = 0.98


@dataclass(frozen=True, slots=True)
class LooksTreated:
    """One low of a silent log, and how likely it is that glucose was given for it."""

    start_utc: datetime
    lowest_at_utc: datetime
    lowest_mg_dl: float
    probability: float


def looks_treated(inputs: Inputs, lows: pl.DataFrame, turns: OwnTurns, rules: PlaceSettings) -> list[LooksTreated]:
    """Every low with nothing logged near which no glucose is logged for days, in order of time.

    lows   LOWS of the person
    """
    # What the family said in answer to such a question is no log that it keeps.
    taken = inputs.doses.filter(pl.col("origin") != ANSWERED)["taken_at_utc"].drop_nulls()
    own = own_untreated_turn(turns, rules)
    expected = _expected_turn(inputs.person, rules)
    found = []
    for row in lows.filter(pl.col("outcome") == str(Outcome.NOTHING_LOGGED)).iter_rows(named=True):
        if not _silent(taken, row["start_utc"], rules):
            continue
        turn = _turn_of(row["start_utc"], row["end_utc"], turns)
        odds = rules.steep_prior_log + rules.steep_detected * _log_odds(row["probability_treated"])
        if turn is not None:
            odds += rules.steep_own * _steepness(turn.turn_mg_dl, own, expected, rules)
        probability = min(SUREST, max(1 - SUREST, 1 / (1 + exp(-odds))))
        found.append(LooksTreated(row["start_utc"], row["nadir_at_utc"], row["nadir_mg_dl"], probability))
    return found


def own_untreated_turn(turns: OwnTurns, rules: PlaceSettings) -> float:
    """How sharply this person turns without glucose, mg/dL: a low quantile of all turns, since some were treated."""
    mine = [each.turn_mg_dl for each in turns.recoveries if not each.food_near]
    if not mine:
        return rules.rise_without_mg_dl
    part = len(mine) / (len(mine) + rules.steep_own_turns)
    moved = rules.rise_without_mg_dl + part * (
        float(np.quantile(mine, rules.steep_own_quantile)) - rules.rise_without_mg_dl
    )
    return min(rules.steep_own_most_mg_dl, max(rules.steep_own_least_mg_dl, moved))


def steep_questions(found: list[LooksTreated], person: Person, rules: PlaceSettings) -> list[Question]:
    """Asks about the latest steep recoveries, a few at a time; no wording accuses."""
    steep = [each for each in found if each.probability >= rules.steep_asked_from]
    return [_question(each, person) for each in steep[-rules.steep_asked_most :]]


def _question(each: LooksTreated, person: Person) -> Question:
    when = each.lowest_at_utc.astimezone(person.zone.on_or_first(each.lowest_at_utc.date()))
    sentence = (
        f"The level turned up steeply after the low of {when:%a %d %b, %H:%M}, and nothing is written down for it. "
        "Was glucose given? It is fine not to know."
    )
    about: dict[str, object] = {
        "taken_at_utc": each.lowest_at_utc.isoformat(),
        "text": "",
        "probability": round(each.probability, 2),
        "words": WORDS,
    }
    return Question(person.person_id, LOOKS_TREATED, each.start_utc.isoformat(), sentence, ANSWERS, about)


def _silent(taken: pl.Series, at_utc: datetime, rules: PlaceSettings) -> bool:
    """Whether no glucose is logged for days before and after an instant."""
    days = timedelta(days=rules.silent_days)
    return not bool(taken.is_between(at_utc - days, at_utc + days).any())


def _turn_of(start_utc: datetime, end_utc: datetime | None, turns: OwnTurns) -> Recovery | None:
    """The lowest turn of a low; None where it has none of its own."""
    end = start_utc if end_utc is None else end_utc
    inside = [each for each in turns.recoveries if start_utc - NEAR <= each.lowest_at_utc <= end + NEAR]
    return min(inside, key=lambda each: each.lowest_mg_dl, default=None)


def _expected_turn(person: Person, rules: PlaceSettings) -> float:
    """How much sharper a turn is expected with the reference amount; the starting table's, so of no weight."""
    table = STARTING_TABLES[person.starting_table]
    return rules.rise_share * rules.usual_g_per_kg * table.factor_mg_dl_per_g(1.0)


def _steepness(turn_mg_dl: float, own: float, expected: float, rules: PlaceSettings) -> float:
    """Log likelihood ratio of a turn with against without glucose; steeper than expected says no more."""
    seen = min(turn_mg_dl, own + expected)
    plain = rules.rise_without_sd_mg_dl
    spread = expected * rules.rise_share_sd / rules.rise_share
    return _log_density(seen - own - expected, (plain**2 + spread**2) ** 0.5) - _log_density(seen - own, plain)


def _log_density(off: float, scale: float) -> float:
    return -log(scale) - (TAIL_DEGREES + 1) / 2 * log(1 + (off / scale) ** 2 / TAIL_DEGREES)


def _log_odds(probability: float) -> float:
    held = min(SUREST, max(1 - SUREST, probability))
    return log(held / (1 - held))
