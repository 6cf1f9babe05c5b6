"""A pairing in words for the clinic: what was given, what followed, the verdict and every reason."""

from gramrise.domain.reasons import REASONS, Effect
from gramrise.report.review.chapters.frame import NOTHING
from gramrise.report.review.numbers.view import Paired
from gramrise.report.words import Words

# What can set a pairing aside; the rest widens it or is a note.
DECISIVE = frozenset({Effect.SET_ASIDE, Effect.CUT})


def anchor_of(one: Paired) -> str:
    """The part of the page where a pairing stands."""
    return f"t{one.first_dose_utc:%Y%m%dT%H%M%S}"


def reason_words(code: str, words: Words) -> str:
    """A reason as the clinic reads it."""
    return REASONS[code].clinic if words.language == "en" else words.say(f"reason_clinic.{code}")


def amount_words(one: Paired, words: Words) -> str:
    grams = words.say("strips.unknown_grams") if one.grams is None else words.grams(one.grams)
    sources = ", ".join(one.sources) or words.say(f"form.{one.form}")
    return words.say("pairing.given", count=one.doses_n, grams=grams, sources=sources)


def verdict_words(one: Paired, words: Words) -> str:
    """'Used: 1 g raised 7.4 ± 2.0', or that it is set aside."""
    if one.verdict != "used":
        return words.say("pairing.set_aside")
    factor, sd = one.factor_mg_dl_per_g, one.factor_sd_mg_dl_per_g
    if factor is None or not factor > 0 or sd is None:
        return words.say("pairing.used_unmeasured")
    told, doubt = words.factor(factor, sd)
    return words.say("pairing.used", factor=told, doubt=doubt)


def reasons_words(one: Paired, words: Words) -> str:
    """Every reason, those that decided first."""
    ranked = sorted(one.reasons, key=lambda code: REASONS[code].effect not in DECISIVE)
    return " ".join(reason_words(code, words) for code in ranked)


def levels_words(one: Paired, words: Words) -> str:
    """From where, how it was moving, and how far it rose: seen, and against the untreated path."""

    def level(value: float | None) -> str:
        return NOTHING if value is None else words.level(value)

    said = [
        words.say(
            "pairing.levels",
            start=level(one.start_seen_mg_dl),
            seen=level(one.rise_seen_mg_dl),
            estimated=level(one.rise_estimated_mg_dl),
        )
    ]
    if one.insulin_on_board_units is not None:
        said.append(words.say("pairing.insulin", units=words.number(one.insulin_on_board_units, 1)))
    if one.shown_factor_mg_dl_per_g is not None:
        said.append(words.say("pairing.shown", factor=words.factor(one.shown_factor_mg_dl_per_g)[0]))
    return " ".join(said)
