"""Which quantity a label speaks of. A word nobody has taught us leaves it unknown: nothing is taken for likely."""

from gramrise.intake.layouts.label_words import Label

UNKNOWN, NOTHING, AMOUNT, VALUE, NOTE = "unknown", "nothing", "amount", "value", "note"
MEASURED = frozenset({"given", "finger", "sensor", "glucose", "insulin", "long_insulin", "food", "weight", "activity"})
GLUCOSE = frozenset({"glucose", "sensor", "finger"})
_SAID = frozenset(
    {"glucose", "glucose_source", "insulin", "long_insulin", "food", "carbs", "portion", "weight", "activity"}
)
_GLUCOSE_UNITS = frozenset({"mg_dl", "mmol_l"})
# Words that leave the quantity what it is.
_NEUTRAL = frozenset({"filler", "value", "given", "amount", "dose", "about", "unit", "insulin_unit", "row_number",
                      "portion_of_day", "body", "before", "after", "when", "date", "time_of_day", "source", "kind",
                      "status", "form", "begin", "grams", "person", "sensor", "finger", "note"})  # fmt: skip


def quantity_of(label: Label) -> str:
    """One of MEASURED; 'note'; 'amount' or 'value' of what it does not say; 'nothing' to keep; or 'unknown'.

    A target, a forecast, a rate, and a quantity of which nothing is kept are 'nothing', whatever stands beside them.
    """
    means = label.meanings
    said = means & _SAID
    if "not_itself" in means or ("irrelevant" in means and not said):
        return NOTHING
    if said and means & {"irrelevant", "doubtful", "not_time"}:  # insulin a meal, glucose asleep, a weight at birth
        return UNKNOWN
    if label.unknown or (len(label.units) > 1 and not label.units <= _GLUCOSE_UNITS):
        return UNKNOWN
    if means & {"rapid", "long_acting"}:
        return _by_action(label, said)
    if label.units & _GLUCOSE_UNITS:
        return _glucose(means) if said <= {"glucose"} else _beside_meal(said, means)
    by_unit = {"insulin": _insulin, "gram": _grams, "kg": _weight, "lb": _weight, "other": _other}.get(label.unit)
    if by_unit is not None:
        return by_unit(label, said)
    if label.unit in {"piece", "ml"}:
        return "given" if said <= {"glucose_source", "glucose"} and said else AMOUNT if not said else UNKNOWN
    return _by_words(label, said)


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


def _insulin(label: Label, said: frozenset[str]) -> str:
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


def _by_words(label: Label, said: frozenset[str]) -> str:
    means = label.meanings
    if "glucose" in said:
        if said == {"glucose"}:
            if "grams" in means:
                return UNKNOWN
            verb = means & {"given", "dose"} and not means & {"value", "sensor", "finger"}
            return "given" if verb else UNKNOWN if "amount" in means else _glucose(means)
        return "given" if said == {"glucose", "glucose_source"} else _beside_meal(said, means)
    if "long_insulin" in said:
        return "long_insulin" if said <= {"long_insulin", "insulin"} else UNKNOWN
    if "insulin" in said:
        return "insulin" if said <= {"insulin", "food"} else UNKNOWN
    if "carbs" in said or "portion" in said or "food" in said:
        return "food" if said <= {"carbs", "portion", "food"} else UNKNOWN
    if said:
        return {"glucose_source": "given", "weight": "weight", "activity": "activity"}.get(
            next(iter(said)) if len(said) == 1 else "", UNKNOWN
        )
    return _without_quantity(means)


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
