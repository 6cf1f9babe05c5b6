"""What a recovery says of the pieces taken for it, in numbers that can be added up over recoveries."""

from dataclasses import dataclass
from math import exp, log
from statistics import median
from typing import Final

import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.domain.sources import AmountUnit
from gramrise.place.layings import Evidence
from gramrise.place.recoveries import OwnTurns, Recovery
from gramrise.place.settings import PlaceSettings

# Standard deviation of a Gaussian over its median absolute deviation.
MAD_TO_SD: Final = 1.4826
# Our choice: a sensor's slips and food nobody wrote down make far rises likelier than a Gaussian has them.
TAIL_DEGREES: Final = 4.0


@dataclass(frozen=True, slots=True)
class PieceEffect:
    """One piece of the source, for this person: its grams, and the peak rise of a gram at that hour."""

    grams: float
    factor_mg_dl_per_g: float
    factor_sd_log: float
    usual_pieces: float  # at once


def usual_pieces(inputs: Inputs, source: str, grams: float, weight_kg: float, rules: PlaceSettings) -> float:
    """Pieces this person takes at once: the median of what is logged of the source, else by weight; at least 1."""
    mine = (pl.col("source") == source) & (pl.col("amount_unit") == str(AmountUnit.PIECE)) & (pl.col("amount") > 0)
    logged = inputs.doses.filter(mine)["amount"].to_list()
    if len(logged) >= rules.usual_from_amounts:
        return max(1.0, float(median(logged)))
    return max(1.0, rules.usual_g_per_kg * weight_kg / grams)


@dataclass(frozen=True, slots=True)
class OwnRises:
    """How sharply this person's turns turn, mg/dL: without glucose, and per mg/dL of the expected peak with it."""

    without: float
    without_sd: float
    share: float
    share_sd: float


def own_rises(turns: OwnTurns, mg_dl_per_g: float, rules: PlaceSettings) -> OwnRises:
    """The settings, moved toward the person's own turns as far as their number bears.

    Turns without logged glucose hold a few that were treated; middle and spread are robust, so that these count little.
    """
    pairs = list(zip(turns.recoveries, turns.grams_near, strict=True))
    plain = [each.turn_mg_dl for each, grams in pairs if grams == 0 and not each.food_near]
    without, spread = _moved(plain, rules.rise_without_mg_dl, rules.rise_without_sd_mg_dl, rules.own_turns)
    shares = [
        (each.turn_mg_dl - without) / (grams * mg_dl_per_g) for each, grams in pairs if grams > 0 and not each.food_near
    ]
    share, share_sd = _moved(shares, rules.rise_share, rules.rise_share_sd, rules.own_turns)
    return OwnRises(without, spread, min(1.0, max(0.1, share)), share_sd)


def _moved(own: list[float], middle: float, spread: float, weight: float) -> tuple[float, float]:
    """A middle and a spread, moved toward the median and the scaled median deviation of a sample."""
    if not own:
        return middle, spread
    mine = median(own)
    deviation = MAD_TO_SD * median(abs(value - mine) for value in own)
    part = len(own) / (len(own) + weight)
    return middle + part * (mine - middle), spread + part * (max(deviation, spread / 3) - spread)


def evidence_of(
    recovery: Recovery, effect: PieceEffect, rises: OwnRises, pieces: int, rules: PlaceSettings
) -> Evidence:
    """Log probability of 0..pieces pieces at a recovery, up to a constant: prior times likelihood of its rise."""
    prior = _prior(recovery.lowest_mg_dl, effect.usual_pieces, pieces, rules)
    return [log(prior[n]) + _log_likelihood(recovery, n, effect, rises, rules) for n in range(pieces + 1)]


def price_elsewhere(usual: float, pieces: int, rules: PlaceSettings) -> Evidence:
    """Log probability of 0..pieces pieces at no turn: strays of other hands, or one amount that left no turn."""
    at_once = _at_once(usual, pieces, rules)
    stray = [(1 - rules.stray_price) * rules.stray_price ** (n - 1) for n in range(1, pieces + 1)]
    none = 1 - rules.stray_share - rules.unseen_share
    some = [rules.stray_share * a + rules.unseen_share * b for a, b in zip(stray, at_once, strict=True)]
    return [log(none), *(log(each) for each in some)]


def _at_once(usual: float, pieces: int, rules: PlaceSettings) -> list[float]:
    """Probability of 1, 2 ... pieces when some are taken."""
    most = max(pieces, int(3 * usual))
    many = [exp(-0.5 * (log(n / usual) / rules.usual_sd_log) ** 2) / n for n in range(1, most + 1)]
    return [each / sum(many) + 1e-12 for each in many[:pieces]]


def _prior(lowest_mg_dl: float, usual: float, pieces: int, rules: PlaceSettings) -> list[float]:
    """Probability of 0, 1, 2 ... pieces before the turn is looked at."""
    given = (
        rules.likely_below_70
        if lowest_mg_dl < 70
        else rules.likely_below_80
        if lowest_mg_dl < 80
        else rules.likely_above
    )
    return [1 - given, *(given * each for each in _at_once(usual, pieces, rules))]


def _log_likelihood(
    recovery: Recovery, pieces: int, effect: PieceEffect, rises: OwnRises, rules: PlaceSettings
) -> float:
    """Log density of the turn seen about what is expected of so many pieces, with the tails of Student's t."""
    peak = pieces * effect.grams * effect.factor_mg_dl_per_g
    without, without_sd = rises.without, rises.without_sd
    if recovery.food_near:
        without, without_sd = rules.rise_food_mg_dl, rules.rise_food_sd_mg_dl
    spread = peak * (rises.share_sd**2 + (rises.share * effect.factor_sd_log) ** 2) ** 0.5
    scale = (without_sd**2 + spread**2) ** 0.5
    off = (recovery.turn_mg_dl - without - rises.share * peak) / scale
    return -log(scale) - (TAIL_DEGREES + 1) / 2 * log(1 + off**2 / TAIL_DEGREES)
