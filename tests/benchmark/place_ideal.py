"""What a knowing observer could reach: the same layings with all settings learned from the truth of that cohort."""

import numpy as np
import tests_on_path  # noqa: F401 - support and virtual lie in tests
from place_truth import Case

from gramrise.place import PlaceSettings

# The person's own turns count for nothing beside settings that are the truth.
NEVER_MOVED = 1e9
LEAST, MOST = 0.02, 0.98


def knowing_rules(made: list[Case], rules: PlaceSettings) -> PlaceSettings:
    """Settings as the truth has them: turns with and without glucose, how often it is given, strays."""
    turns = [
        (each.turn_mg_dl, each.lowest_mg_dl, each.food_near, pieces * _peak(case))
        for case in made
        for each, pieces in zip(case.placed.recoveries, case.truth, strict=True)
    ]
    turn, lowest, food, peak = (np.array(column, dtype=float) for column in zip(*turns, strict=True))
    plain, fed = (peak == 0) & (food == 0), (peak == 0) & (food == 1)
    without, spread = _middle(turn[plain])
    given = (peak > 0) & (food == 0)
    shares = (turn[given] - without) / peak[given]
    share, share_sd = _middle(shares)
    with_food, food_spread = _middle(turn[fed]) if fed.sum() > 5 else (rules.rise_food_mg_dl, rules.rise_food_sd_mg_dl)
    strays = float(np.mean([case.elsewhere > 0 for case in made]))
    known = {
        "rise_without_mg_dl": without, "rise_without_sd_mg_dl": spread,
        "rise_food_mg_dl": with_food, "rise_food_sd_mg_dl": food_spread,
        "rise_share": min(1.0, max(0.05, share)), "rise_share_sd": share_sd,
        "likely_below_70": _share(peak > 0, lowest < 70),
        "likely_below_80": _share(peak > 0, (lowest >= 70) & (lowest < 80)),
        "likely_above": _share(peak > 0, lowest >= 80),
        "stray_share": max(LEAST, strays / 2), "unseen_share": max(LEAST, strays / 2),
        "own_turns": NEVER_MOVED,
    }  # fmt: skip
    return rules.model_copy(update=known)


def _peak(case: Case) -> float:
    """Expected peak of one piece, by the bands' true factors; one number a count is near enough for settings."""
    grams = case.placed.grams_untimed / case.placed.pieces_untimed
    return grams * float(case.exact["factor_mg_dl_per_g"].mean())


def _middle(values: np.ndarray) -> tuple[float, float]:
    middle = float(np.median(values))
    return middle, max(1e-3, 1.4826 * float(np.median(np.abs(values - middle))))


def _share(given: np.ndarray, among: np.ndarray) -> float:
    return float(np.clip(given[among].mean(), LEAST, MOST)) if among.any() else 0.5
