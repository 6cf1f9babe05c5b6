"""Every string of the step sheet and the label, in the person's language."""

from pydantic import BaseModel, ConfigDict

from gramrise.report.mixing.view import TABLE_ML, MixingView
from gramrise.report.words import Words, words_for


class MixingFace(BaseModel):
    """The page in words."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    language: str
    document: str
    title: str
    what: str
    steps_heading: str
    steps: tuple[str, ...]
    amounts_heading: str
    amounts: tuple[tuple[str, str], ...]
    measure: str
    keep_heading: str
    keep: tuple[str, ...]
    give_heading: str
    give: tuple[str, ...]
    label_title: str
    label_not: str
    label_strength: str
    label_whose: str
    label_mixed: str
    label_use_by: str
    label_keep: str
    label_cut: str
    caution: str


def mixing_face(view: MixingView) -> MixingFace:
    """The words of a page."""
    words = words_for(view.language, view.unit, view.zone)
    named = {"name": view.person_name, "source": view.source}
    in_10 = words.grams(round(10 * view.strength_g_per_ml, 2)) if _tenths(view) else _hundredths(words, view, 10)
    return MixingFace(
        language=words.language,
        document=words.say("mixing.document", **named),
        title=words.say("mixing.title", **named),
        what=words.say("mixing.what", grams=in_10, volume=words.number(view.volume_ml)),
        steps_heading=words.say("mixing.steps_heading"),
        steps=_steps(view, words),
        amounts_heading=words.say("mixing.amounts_heading"),
        amounts=tuple((words.say("mixing.ml", ml=ml), f"{_hundredths(words, view, ml)} g") for ml in TABLE_ML),
        measure=words.say("mixing.measure"),
        keep_heading=words.say("mixing.keep_heading"),
        keep=_keep(view, words),
        give_heading=words.say("mixing.give_heading"),
        give=tuple(words.say(f"mixing.give.{code}") for code in ("awake", "rinse", "vomiting", "swallow")),
        label_title=words.say("mixing.label.title"),
        label_not=words.say("mixing.label.not_a_drink"),
        label_strength=words.say("mixing.label.strength", grams=in_10),
        label_whose=words.say("mixing.label.whose", **named),
        label_mixed=words.say("mixing.label.mixed", day=_day(words, view.mixed_on)),
        label_use_by=words.say("mixing.label.use_by", day=_day(words, view.use_by)),
        label_keep=words.say("mixing.label.keep", days=view.rules.days_kept_cold),
        label_cut=words.say("mixing.label.cut"),
        caution=words.say("mixing.caution"),
    )


def _steps(view: MixingView, words: Words) -> tuple[str, ...]:
    rules, water = view.rules, words.number(view.water_ml)
    low, high = words.number(view.least_total_g), words.number(view.most_total_g)
    acids = [
        words.say(f"mixing.step.{code}", mg=words.number(mg), per=_per_10(words, mg, view))
        for code, mg in (("citric_acid", view.citric_acid_mg), ("ascorbic_acid", view.ascorbic_acid_mg))
        if mg > 0
    ]
    fill = "fill_to_line" if view.filled_to_line else "pour_water"
    return (
        words.say("mixing.step.hands"),
        words.say("mixing.step.scald"),
        words.say("mixing.step.water", ml=water, degrees=rules.cooled_water_c),
        words.say(f"mixing.step.weigh_{view.powder}", grams=words.grams(view.powder_g)),
        *acids,
        words.say(f"mixing.step.{fill}", volume=words.number(view.volume_ml), water=water),
        words.say("mixing.step.check", grams=words.number(view.total_g), low=low, high=high),
        words.say("mixing.step.label"),
    )


def _keep(view: MixingView, words: Words) -> tuple[str, ...]:
    rules = view.rules
    return (
        words.say("mixing.keep.days", days=rules.days_kept_cold),
        words.say("mixing.keep.out", hours=rules.hours_out_of_the_cold),
        words.say("mixing.keep.mouthed"),
        words.say("mixing.keep.cloudy"),
        words.say(
            "mixing.keep.heat", low=rules.heating_low_c, minutes=rules.heating_low_minutes,
            high=rules.heating_high_c, seconds=rules.heating_high_seconds,
        ),
    )  # fmt: skip


def _per_10(words: Words, mg: float, view: MixingView) -> str:
    return words.number(10 * mg / view.volume_ml, 1)


def _tenths(view: MixingView) -> bool:
    """Whether tenths of a gram in 10 mL say the strength as exactly as hundredths."""
    return abs(round(10 * view.strength_g_per_ml, 1) - 10 * view.strength_g_per_ml) < 0.005


def _hundredths(words: Words, view: MixingView, ml: int) -> str:
    return words.number(ml * view.strength_g_per_ml, 2)


def _day(words: Words, day: object) -> str:
    from datetime import date

    return words.day(day, "brief") if isinstance(day, date) else "_" * 14
