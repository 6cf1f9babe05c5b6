"""What our sources refuse or warn of, said in German: no sentence is forgotten, and values come through."""

import ast
import re

import pytest
from support.said import SRC, said

from gramrise.domain.problems import CouldNotRun, Trouble, WrongUse
from gramrise.intake import FileRefused
from gramrise.report import in_language
from gramrise.report.word_files import sentences_of

VALUE = re.compile(r"\{\d\}")
# Sentences put together from words given to each other ('5 minutes' and 'back'): no constant of ours holds them whole.
PUT_TOGETHER = re.compile(r" minutes | is not read| are not read")
# What stands between the constants of a sentence.
PARTS, ENDS = re.compile(r"\{\d\}|\. |: |; "), " '.;:,()"


def test_every_sentence_that_is_raised_has_its_german():
    known = sentences_of("de")
    missing = [each for each in said() if each not in known and in_language(filled(each), "de") == filled(each)]
    assert not missing


def filled(sentence: str) -> str:
    return VALUE.sub("4711", sentence)


def test_each_german_sentence_takes_the_values_of_its_english():
    unlike = {
        english: german
        for english, german in sentences_of("de").items()
        if not set(VALUE.findall(german)) <= set(VALUE.findall(english))
    }
    assert not unlike


def test_no_sentence_waits_for_one_that_nobody_raises_any_more():
    raised = set(said())
    sources = "\n".join(
        node.value
        for file in SRC.rglob("*.py")
        for node in ast.walk(ast.parse(file.read_text("utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    )
    others = [each for each in sentences_of("de") if each not in raised and not PUT_TOGETHER.search(each)]
    stale = [each for each in others if any(part.strip(ENDS) not in sources for part in PARTS.split(each))]
    assert not stale


def test_a_wrong_use_is_said_whole():
    trouble = WrongUse("no source is called 'Bonbon'; known: candy", "name one with --source")
    assert in_language(str(trouble), "de") == (
        "keine Quelle heißt „Bonbon“; bekannt: candy. Abhilfe: eine mit --source nennen."
    )
    assert in_language(str(trouble), "en") == str(trouble)


def test_a_row_keeps_its_place_and_what_was_found():
    trouble = Trouble(
        "not_a_number", "log.csv", 3, "grams", "vier", "this is no number", "write the number alone, in the way the "
        "rows around it do",
    )  # fmt: skip
    assert in_language(trouble.sentence, "de-AT") == (
        "log.csv Zeile 3, grams: gefunden „vier“; das ist keine Zahl. "
        "Abhilfe: nur die Zahl schreiben, wie in den Zeilen darum."
    )


def test_several_rows_in_one_sentence_are_each_said():
    told = (
        "a.csv: nothing of it could be read (2 lines set aside). a.csv row 2: no amount is written. "
        "To mend: write how much it was. a.csv row 3, time: the row has no time. To mend: write when it was. "
        "To mend: mend these lines, or state the source they name."
    )
    german = in_language(told, "de")
    assert "a.csv Zeile 2: es steht keine Menge da. Abhilfe: schreiben, wie viel es war." in german
    assert "a.csv Zeile 3, time: die Zeile hat keine Zeit. Abhilfe: schreiben, wann es war." in german
    assert "To mend" not in german


def test_a_value_that_is_a_word_of_ours_is_said_too_and_a_quoted_one_never():
    assert in_language("no person 'x'; known: nobody yet", "de") == "keine Person „x“; bekannt: noch niemand"
    assert in_language("'none yet' is not a date", "de") == "„none yet“ ist kein Datum"


def test_a_refused_file_and_what_a_system_said():
    refused = FileRefused("empty", "a.csv", "it is empty", "export it again")
    assert in_language(str(refused), "de") == "a.csv: sie ist leer. Abhilfe: noch einmal exportieren."
    stopped = CouldNotRun("/h/x.db cannot be opened: Permission denied", "name the home folder with --home")
    assert in_language(str(stopped), "de").startswith("/h/x.db lässt sich nicht öffnen: Permission denied. Abhilfe:")


def test_a_value_at_the_end_never_swallows_the_remedy_nor_the_full_stop():
    told = WrongUse("31 pieces are left of 20", "count pieces, or mL of a liquid")
    assert in_language(str(told), "de") == (
        "31 Stück sind von 20 übrig. Abhilfe: Stücke zählen, oder mL einer Flüssigkeit."
    )
    told = WrongUse("'kuchen' is no form of the powder", "write the value behind it")
    assert in_language(str(told), "de").startswith("„kuchen“ ist keine Form des Pulvers. Abhilfe: ")
    told = WrongUse("'x' is no sex", "one of: '', boy, girl")
    assert in_language(str(told), "de") == "„x“ gibt es als Geschlecht nicht. Abhilfe: eines von: '', boy, girl."
    told = WrongUse("40 g of glucose per piece is unusual", "correct the number; if it is right, add --meant")
    assert in_language(str(told), "de").startswith("40 g Traubenzucker je Stück sind ungewöhnlich. Abhilfe: ")


def test_what_a_pass_did_is_said_whole_with_letters_and_without():
    told = "1 brought up to date; files taken in: 2, new rows: 4344"
    mails = "; mails written into `outbox`, as no server is set: 2, waiting: 0"
    german = "1 auf Stand gebracht; Dateien aufgenommen: 2, neue Zeilen: 4344"
    assert in_language(f"{told}.", "de") == f"{german}."
    assert in_language(f"{told}{mails}.", "de").startswith(f"{german}; Mails in `outbox` geschrieben, ")


def test_dates_and_decimals_are_written_as_the_language_writes_them():
    assert in_language("jonna: 26.3 kg on 2026-11-28.", "de") == "jonna: 26,3 kg am 28.11.2026."
    assert in_language("jonna: 26.3 kg on 2026-11-28.", "en") == "jonna: 26.3 kg on 2026-11-28."
    told = in_language("the birth date: 2081-05-14 has not been yet", "de")
    assert told == "das Geburtsdatum: 14.05.2081 war noch nicht"
    assert in_language("'2026-02-31' is not a date", "de") == "„2026-02-31“ ist kein Datum"
    assert in_language("2026-02-31 has not been yet", "de") == "2026-02-31 war noch nicht"


def test_a_remedy_with_a_comma_and_from_is_not_taken_for_the_day_a_fact_holds_from():
    told = "150 minutes cannot be meant for the second look. To mend: give minutes, from 5 to 30"
    assert in_language(told, "de") == (
        "150 Minuten können für das zweite Hinsehen nicht gemeint sein. Abhilfe: Minuten angeben, von 5 bis 30"
    )
    assert in_language(f"{told}.", "de").endswith("Abhilfe: Minuten angeben, von 5 bis 30.")


def test_a_time_with_its_weekday_is_written_as_the_language_writes_it():
    told = (
        "log.csv: 9 of the 9 readings it has for times known already of mia, Sat 07 Nov 2026 00:00 to Sun 08 Nov 2026 "
        "12:30, are other values; nothing of it was taken in"
    )
    said = in_language(told, "de")
    assert "Sa 07.11.2026 00:00 bis So 08.11.2026 12:30" in said
    no_such_day = in_language(told.replace("Sat 07 Nov", "Sat 31 Feb"), "de")
    assert "Sat 31 Feb 2026 00:00 bis So 08.11.2026 12:30" in no_such_day


def test_what_nobody_here_wrote_stays_as_it_is():
    assert in_language("something else entirely", "de") == "something else entirely"


@pytest.mark.parametrize("told", ["x: " * 400, "'" * 3000, "a row 1: " * 200, "; ".join("ab" * 300)])
def test_a_strange_sentence_is_given_back_soon(told):
    assert in_language(told, "de") == told


def test_a_sentence_that_holds_the_mark_between_sentences_is_said_whole():
    header = (
        "put a header over them, for readings: time, glucose (mg/dL) or (mmol/L); for glucose given: time, source, "
    )
    told = in_language(f"{header}amount, or: time, grams; `gramrise layouts FILE` shows", "de")
    assert told.startswith("eine Kopfzeile darüber setzen")
    assert "glucose given" not in told
