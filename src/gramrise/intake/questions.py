"""Questions instead of guesses, as far as the file, the person and stored readings can raise them."""

from math import log

import polars as pl

from gramrise.domain.batch import Question
from gramrise.domain.person import Person
from gramrise.domain.sources import Source
from gramrise.intake.amounts import ReadAmount
from gramrise.intake.settings import IntakeSettings

_SENTENCES = {
    "bare_amount": "'{text}' at {at}: {number} of what? Pieces, mL or grams?",
    "which_source": "'{text}' at {at}: of which source?",
    "unknown_source": "'{text}' at {at}: is '{word}' glucose of known strength, and which?",
    "no_amount": "'{text}' at {at}: how much was given?",
    "unclear_amount": "'{text}' at {at}: how much was given?",
    "bottle_size": "'{text}' at {at}: how much does a full bottle hold?",
}


def amount_question(
    person: Person, dose: dict[str, object], read: ReadAmount, text: str, sources: tuple[Source, ...]
) -> Question:
    """What a dose's words leave open. Answers: 'piece:NAME', 'mL:NAME', 'g', 'grams' (typed in), 'not_glucose'."""
    at_utc = dose["taken_at_utc"]
    local = at_utc.astimezone(person.zone_now())  # type: ignore[attr-defined]
    amount = dose["amount"]
    number = f"{amount:g}" if isinstance(amount, float) else "how much"
    sentence = _SENTENCES[read.question].format(
        text=text.strip()[:60], at=f"{local:%Y-%m-%d %H:%M}", number=number, word=read.about_word
    )
    unit = dose["amount_unit"]
    fitting = [source for source in sources if not unit or source.unit.value == unit]
    offered = [f"{source.unit.value}:{source.name}" for source in fitting] if amount is not None else []
    if amount is not None and not unit:
        offered.append("g")
    about: dict[str, object] = {
        "taken_at_utc": at_utc.isoformat(),  # type: ignore[attr-defined]
        "source": dose["source"],
        "ordinal": dose["ordinal"],
        "amount": amount,
        "amount_unit": unit,
        "text": text.strip()[:200],
    }
    key = f"{about['taken_at_utc']} {dose['source']} {dose['ordinal']}"
    return Question(person.person_id, read.question, key, sentence, (*offered, "grams", "not_glucose"), about)


def whose_file(
    readings: pl.DataFrame, others: dict[str, pl.DataFrame], file: str, settings: IntakeSettings
) -> list[Question]:
    """Whether a file's readings are another person's: equal values at equal instants.

    readings  READINGS of the file; others: READINGS of every other person, by person_id
    """
    asked = []
    mine = readings.select("at_utc", "glucose_mg_dl")
    for other, frame in others.items():
        equal = mine.join(frame.select("at_utc", "glucose_mg_dl"), on=["at_utc", "glucose_mg_dl"], how="semi").height
        if equal >= settings.equal_readings_asked and readings.height:
            person = str(readings["person_id"][0])
            sentence = f"{file}: {equal} of its readings equal those of {other}. Whose file is it?"
            about: dict[str, object] = {"file": file, "other": other, "equal": equal}
            asked.append(Question(person, "whose_file", f"{file} {other}", sentence, (person, other), about))
    return asked


def pieces_or_grams(
    person_id: str, file: str, responses_mg_dl_per_g: list[float], usual_mg_dl_per_g: float, settings: IntakeSettings
) -> Question | None:
    """Whether a log's responses sit at 1/4, 1/2, 2 or 4 times the person's: then pieces may have been read as grams.

    responses_mg_dl_per_g  rise per gram of each of the log's treatments; usual: the person's rise factor before it
    """
    if len(responses_mg_dl_per_g) < settings.mixed_up_least_responses or usual_mg_dl_per_g <= 0:
        return None
    middle = sorted(responses_mg_dl_per_g)[len(responses_mg_dl_per_g) // 2]
    if middle <= 0:
        return None
    ratio = middle / usual_mg_dl_per_g
    near = min(settings.mixed_up_ratios, key=lambda known: abs(log(ratio / known)))
    if abs(log(ratio / near)) > log(1 + settings.mixed_up_share):
        return None
    sentence = f"{file}: 1 g in it seems to raise {ratio:.1f} times as much as usual. Are its amounts pieces or grams?"
    about: dict[str, object] = {"file": file, "ratio": ratio, "near": near}
    return Question(person_id, "pieces_or_grams", file, sentence, ("pieces", "grams"), about)
