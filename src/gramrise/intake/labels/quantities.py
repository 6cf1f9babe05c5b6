"""Which quantity a label speaks of. A word nobody has taught us leaves it unknown: nothing is taken for likely."""

import re

from gramrise.intake.labels.label_words import Label

UNKNOWN, NOTHING, AMOUNT, VALUE, NOTE = "unknown", "nothing", "amount", "value", "note"
MEASURED = frozenset({"given", "finger", "sensor", "glucose", "insulin", "long_insulin", "food", "weight", "activity"})
GLUCOSE = frozenset({"glucose", "sensor", "finger"})
_SAID = frozenset(
    {"glucose", "glucose_source", "insulin", "long_insulin", "food", "carbs", "portion", "weight", "activity"}
)
_GLUCOSE_UNITS = frozenset({"mg_dl", "mmol_l"})
_DENIED = re.compile(r"^\s*(no|not|without|kein\w*|ohne|sans|sin|senza|geen|zonder|bez)\s+(?!of\b)", re.IGNORECASE)
# 'Dextrose 10% (mL)': the strength of what was given, and not that of the product that is known.
_STRENGTH = re.compile(r"\d\s*%")
# '(0.1 U)', '(10 g)', 'Carbs 10 g': the numbers below count so many at a time. '(2 h)' is a time of measuring.
_MULTIPLE = re.compile(
    r"[(\[{]\s*(?:[x\u00d7*]\s*)?\d+(?:[.,]\d+)?\s*(?!(?:h|hr|hrs|std|min|mins|minutes|minuten|s|sec|d|day|days|tage)\b)[^\W\d]"
    r"|\d\s*(?:g|gr|grams?|gramm|u|iu|ie|ui|units?|einheiten)\W*$",
    re.IGNORECASE,
)


def quantity_of(label: Label) -> str:
    """One of MEASURED; 'note'; 'amount' or 'value' of what it does not say; 'nothing' to keep; or 'unknown'.

    A target, a forecast, a rate, and a quantity of which nothing is kept are 'nothing', whatever stands beside them.
    """
    means, said = label.meanings, label.meanings & _SAID
    if "not_itself" in means or ("irrelevant" in means and not said and _may_be_nothing(label)):
        return NOTHING
    # Insulin a meal, glucose asleep, a weight at birth: something else may be meant.
    asked = (said or "irrelevant" in means) and means & {"irrelevant", "doubtful", "not_time", "relative"}
    if (
        asked
        or ("relative" in means and label.units)
        or label.unknown
        or _counts_otherwise(label, said)
        or (len(label.units) > 1 and not label.units <= _GLUCOSE_UNITS)
    ):
        return UNKNOWN
    if means & {"rapid", "long_acting"}:
        return _by_action(label, said)
    if label.units & _GLUCOSE_UNITS:
        return _glucose(means) if said <= {"glucose"} else _beside_meal(said, means)
    return _BY_UNIT[label.unit](label, said) if label.unit in _BY_UNIT else _by_words(label, said)


def _counts_otherwise(label: Label, said: frozenset[str]) -> bool:
    """Whether a label of a quantity calls it deleted, a test or an error, denies it, or counts several at a time."""
    if (
        not said
        and not label.units & {"mg_dl", "mmol_l", "insulin", "gram"}
        and not label.meanings & {"finger", "sensor"}
    ):
        return False
    if "status" in label.meanings or _DENIED.search(label.text):
        return True
    return bool(label.units) and bool(_MULTIPLE.search(label.text) or _STRENGTH.search(label.text))


def _may_be_nothing(label: Label) -> bool:
    """A temperature is never in mg/dL, but a ketone is in mmol/L."""
    return "analyte" in label.meanings or not label.units & (_GLUCOSE_UNITS | {"insulin"})


def _by_action(label: Label, said: frozenset[str]) -> str:
    """'Rapid' and 'long' say which insulin it is where a word or a unit says that it is insulin; else nothing."""
    if not (said & {"insulin", "long_insulin"} or (label.unit == "insulin" and not said)):
        return UNKNOWN
    if not said <= {"insulin", "long_insulin", "food"} or label.unit not in {"", "insulin"}:
        return UNKNOWN
    if "rapid" in label.meanings:
        return UNKNOWN if "long_acting" in label.meanings or "long_insulin" in said else "insulin"
    return "long_insulin"


def _glucose(means: frozenset[str]) -> str:
    if "sensor" in means and "finger" in means:
        return UNKNOWN
    if "sensor" in means and "begin" in means:
        return NOTHING
    return "finger" if "finger" in means else "sensor" if "sensor" in means else "glucose"


def _beside_meal(said: frozenset[str], means: frozenset[str]) -> str:
    """'Glucose before the meal' is glucose; glucose beside any other quantity stays unknown."""
    meal = said == {"glucose", "food"} and bool(means & {"before", "after", "portion_of_day"})
    return _glucose(means) if meal else UNKNOWN


def _insulin(_: Label, said: frozenset[str]) -> str:
    if "long_insulin" in said and said <= {"long_insulin", "insulin"}:
        return "long_insulin"
    return "insulin" if said <= {"insulin", "food"} else UNKNOWN


def _grams(label: Label, said: frozenset[str]) -> str:
    if "carbs" in said and said <= {"carbs", "food"}:
        return "food"
    if "glucose_source" in said and said <= {"glucose_source", "glucose"}:
        return "given"
    if said == {"glucose"}:  # 'sugar (g)' is as likely what stands on a food's label
        return UNKNOWN if "sugar" in label.meanings else "given"
    if said == {"food"}:
        return "food"
    return AMOUNT if not said else UNKNOWN


def _weight(label: Label, said: frozenset[str]) -> str:
    return "weight" if said <= {"weight"} and not label.meanings & {"before", "after", "given"} else UNKNOWN


def _other(label: Label, said: frozenset[str]) -> str:
    if said == {"activity"}:
        return "activity"
    if not said:
        return NOTHING
    per_time = any(part in label.text.casefold().replace(" ", "") for part in ("/h", "/d", "/t", "perh", "proh"))
    return NOTHING if said & {"insulin", "long_insulin"} and per_time else UNKNOWN


def _counted(_: Label, said: frozenset[str]) -> str:
    """Pieces or mL."""
    if not said:
        return AMOUNT
    return "given" if said <= {"glucose_source", "glucose"} else UNKNOWN


def _by_words(label: Label, said: frozenset[str]) -> str:
    """The quantity where no unit is named: that of its words, if they speak of one."""
    if not said:
        return _without_quantity(label.meanings)
    if "glucose" in said:
        return _of_glucose(label.meanings, said)
    for which, beside in _TOGETHER:
        if which in said:
            found = {"glucose_source": "given", "carbs": "food", "portion": "food"}.get(which, which)
            return found if said <= beside else UNKNOWN
    return UNKNOWN


# Each quantity with the others that may stand in one label with it: a meal's bolus is insulin.
_TOGETHER = (
    ("long_insulin", {"long_insulin", "insulin"}),
    ("insulin", {"insulin", "food"}),
    ("carbs", {"carbs", "portion", "food"}),
    ("portion", {"portion", "food"}),
    ("food", {"food"}),
    ("glucose_source", {"glucose_source"}),
    ("weight", {"weight"}),
    ("activity", {"activity"}),
)


def _of_glucose(means: frozenset[str], said: frozenset[str]) -> str:
    if said == {"glucose", "glucose_source"}:
        return "given"
    if said != {"glucose"}:
        return _beside_meal(said, means)
    if means & {"given", "dose"} and not means & {"value", "sensor", "finger", "grams"}:
        return "given"
    return UNKNOWN if means & {"amount", "grams"} else _glucose(means)


def _without_quantity(means: frozenset[str]) -> str:
    if "note" in means:
        return NOTE
    if means & {"sensor", "finger"}:
        return NOTHING if "begin" in means else _glucose(means) if not means & {"about", "row_number"} else NOTHING
    if "insulin_unit" in means:
        return "insulin"
    if means & {"given", "amount", "dose", "grams"}:
        return AMOUNT
    if means & {"about", "doubtful", "row_number", "before", "after", "portion_of_day", "begin"}:
        return NOTHING
    return VALUE if "value" in means else UNKNOWN


_BY_UNIT = {
    "insulin": _insulin,
    "gram": _grams,
    "kg": _weight,
    "lb": _weight,
    "other": _other,
    "piece": _counted,
    "ml": _counted,
}
