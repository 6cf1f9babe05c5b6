"""Questions to the family about doses whose words leave the amount open."""

from gramrise.domain.batch import Question
from gramrise.domain.person import Person
from gramrise.domain.questions import dose_key
from gramrise.domain.sources import Source
from gramrise.intake.cells import ReadAmount

AMOUNT_QUESTIONS = {
    "bare_amount": "'{text}' at {at}: {number} of what? Pieces, mL or grams?",
    "which_source": "'{text}' at {at}: of which source?",
    "unknown_source": "'{text}' at {at}: is '{word}' glucose of known strength, and which?",
    "source_of_another": "'{text}' at {at}: '{word}' is a source of {whose}. Of which source was it?",
    "no_amount": "'{text}' at {at}: how much was given?",
    "unclear_amount": "'{text}' at {at}: how much was given?",
    "glucose_or_product": (
        "'{text}' at {at}: is that grams of glucose, or the weight of the product ({word})? "
        "Then how many grams of glucose are in it?"
    ),
    "left_or_given": "'{text}' at {at}: was it given, or is it what is left or was bought?",
    "amount_large": "'{text}' at {at}: that is much for one treatment ({word}). Is it meant?",
    "bottle_size": "'{text}' at {at}: nobody has stated how much that holds. How many grams of glucose was it?",
}


def amount_question(
    person: Person, dose: dict[str, object], read: ReadAmount, text: str, sources: tuple[Source, ...], meant: str = ""
) -> Question:
    """The question about one dose. Answers: 'piece:NAME', 'mL:NAME', 'g', 'grams' (typed in), 'not_glucose'.

    meant   the answer that says it is as written, where it is asked about for its size
    """
    at_utc = dose["taken_at_utc"]
    local = at_utc.astimezone(person.zone_now())  # type: ignore[attr-defined]
    amount = dose["amount"]
    number = f"{amount:g}" if isinstance(amount, float) else "how much"
    sentence = AMOUNT_QUESTIONS[read.question].format(
        text=text.strip()[:60],
        at=f"{local:%a %d %b %Y %H:%M}",
        number=number,
        word=read.about_word or text.strip()[:60],
        whose=read.whose,
    )
    unit = dose["amount_unit"]
    counted = amount is not None and read.question != "bottle_size"  # half a bottle is half of nothing we know
    fitting = [source for source in sources if counted and (not unit or source.unit.value == unit)]
    named = [source for source in fitting if source.name == dose["source"]]
    offered = [f"{source.unit.value}:{source.name}" for source in named or fitting]
    if meant:
        offered = ["g" if meant == "g:" else meant]
    elif counted and (not unit or read.question == "glucose_or_product"):
        offered.append("g")
    about: dict[str, object] = {
        "taken_at_utc": at_utc.isoformat(),  # type: ignore[attr-defined]
        "source": dose["source"],
        "ordinal": dose["ordinal"],
        "amount": amount,
        "amount_unit": unit,
        "text": text.strip()[:200],
    }
    if read.question in {"unknown_source", "source_of_another"}:
        about["word"] = read.about_word
    if read.whose:
        about["whose"] = read.whose
    key = dose_key(str(about["taken_at_utc"]), dose["source"], dose["ordinal"])
    return Question(person.person_id, read.question, key, sentence, (*offered, "grams", "not_glucose"), about)
