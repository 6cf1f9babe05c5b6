"""Amounts of glucose as people write them, in four languages, against the person's own sources."""

import pytest
from support.variants import BOTTLE, TABLETS

from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.intake import load_words
from gramrise.intake.cells.amounts import read_amount

WORDS = load_words()
SOURCES = (TABLETS, BOTTLE)  # 4 g a piece; 0.25 g a mL


def grams(text: str, sources: tuple[Source, ...] = SOURCES) -> list[float | None]:
    return [one.grams for one in read_amount(text, sources, WORDS).given]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("3 pieces", [12.0]),
        ("15 ml", [3.75]),
        ("2 x candy", [8.0]),
        ("4 tabs + 10 mL", [16.0, 2.5]),
        ("1/2 tablet", [2.0]),
        ("½ tablet", [2.0]),
        ("2½ tablets", [10.0]),
        ("1 1/2 tablets", [6.0]),
        ("one and a half tabs", [6.0]),
        ("three tablets", [12.0]),
        ("12 g", [12.0]),
        ("3 x 4 g", [12.0]),
        ("2,5 Stück", [10.0]),
        ("3 Stück Traubenzucker", [12.0]),
        ("zwei Tabletten und 10 ml Saft", [8.0, 2.5]),
        ("eine halbe Tablette", [2.0]),
        ("3 comprimés", [12.0]),
        ("un comprimé et demi", [6.0]),
        ("10 ml de liquide", [2.5]),
        ("dos pastillas", [8.0]),
        ("media pastilla", [2.0]),
        ("4 caramelos y 10 ml", [16.0, 2.5]),
        ("about 3 tabs", [12.0]),
        ("low 65, 3 tabs", [12.0]),
        ("3 tabs before sport", [12.0]),
        ("gave 3 tabs at night", [12.0]),
        ("nachts 3 Stück", [12.0]),
        ("12 g Traubenzucker", [12.0]),
        ("night bottle 20ml", [5.0]),
        ("0,2 l Saft", [50.0]),
        ("3 tabs at dinner", [12.0]),
        ("1/4 l of liquid", [62.5]),
        ("2 dl", [50.0]),
        ("1,5 cl liquid", [3.75]),
    ],
)
def test_an_amount_that_says_what_it_is_has_grams(text, expected):
    read = read_amount(text, SOURCES, WORDS)
    assert [one.grams for one in read.given] == pytest.approx(expected)
    assert read.question == ""


@pytest.mark.parametrize(
    ("text", "question"),
    [
        ("3", "bare_amount"),
        ("1/2 bottle", "bottle_size"),
        ("half a bottle", "bottle_size"),
        ("1 Esslöffel Saft", "bottle_size"),
        ("1 EL Saft", "bottle_size"),
        ("1 Glas Saft", "bottle_size"),
        ("2 sips of liquid", "bottle_size"),
        ("2 kleine Saft", "bottle_size"),
        ("2 or 3 tabs", "unclear_amount"),
        ("2 oder 3 Stück", "unclear_amount"),
        ("3-4 tabs", "unclear_amount"),
        ("3 tabs?", "unclear_amount"),
        ("tabs 1/²2", "unclear_amount"),
        ("²0 tabs", "unclear_amount"),
        ("not 3 tabs", "unclear_amount"),
        ("tablets", "no_amount"),
        ("Traubenzucker", "no_amount"),
        ("15 liquid", "bare_amount"),
        ("3 pieces of honeycomb", "unknown_source"),
        ("2 Stück Marzipan", "unknown_source"),
        ("4 tabs, 15", "unclear_amount"),
        ("3 tabs 3 tabs", "unclear_amount"),
        ("Kakao 200 ml", "unknown_source"),
        ("Lasagne 60 g", "unknown_source"),
        ("Kim 3 pieces", "unknown_source"),
    ],
)
def test_an_amount_nobody_could_mean_for_certain_becomes_a_question(text, question):
    read = read_amount(text, SOURCES, WORDS)
    assert read.question == question
    assert any(one.grams is None for one in read.given) or question == "bare_amount"


@pytest.mark.parametrize(
    "text", ["toast and milk", "Abendessen", "3 pieces of cake", "200 ml milk", "no glucose", "", "x"]
)
def test_food_and_other_words_are_no_glucose_given(text):
    assert grams(text) == []


def test_units_alone_are_insulin_and_no_glucose():
    read = read_amount("2 units", SOURCES, WORDS)
    assert grams("2 units") == []
    assert read.insulin


def test_food_beside_glucose_is_marked():
    read = read_amount("3 tabs and toast", SOURCES, WORDS)
    assert grams("3 tabs and toast") == [12.0]
    assert read.remarks == ("mixed_with_food",)
    assert read.happenings == ("food",)


@pytest.mark.parametrize(
    ("text", "kind"),
    [("3 tabs, vomited", "vomited"), ("3 tabs, glucagon", "glucagon"), ("Fußball", "activity"), ("Fieber", "illness")],
)
def test_other_things_the_words_tell_are_kept(text, kind):
    assert kind in read_amount(text, SOURCES, WORDS).happenings


def test_two_sources_counted_in_pieces_are_told_apart_by_name_alone():
    small = Source("drops", Form.TABLET, 1.0, None, StatedAs.ANHYDROUS)
    assert grams("3 drops", (TABLETS, small)) == [3.0]
    read = read_amount("3 pieces", (TABLETS, small), WORDS)
    assert (read.question, read.given[0].grams) == ("which_source", None)


def test_a_bottle_that_is_a_source_of_its_own_has_grams():
    bottle = Source("small bottle", Form.LIQUID, 15.0, None, StatedAs.ANHYDROUS, other_names=("Flasche",))
    assert grams("1/2 bottle", (TABLETS, bottle)) == [7.5]
    assert grams("eine halbe Flasche", (TABLETS, bottle)) == [7.5]


def test_monohydrate_holds_a_tenth_less():
    dextrose = Source("dextrose", Form.TABLET, 4.0, None, StatedAs.MONOHYDRATE)
    assert grams("1 dextrose", (dextrose,)) == pytest.approx([4 * 180.156 / 198.171])  # molar masses, USP monograph


def test_grams_of_nothing_in_particular_may_be_weaker():
    assert read_amount("12 g", SOURCES, WORDS).given[0].may_be_weaker
    assert not read_amount("3 tablets", SOURCES, WORDS).given[0].may_be_weaker


def test_a_family_without_sources_is_asked():
    read = read_amount("3 pieces", (), WORDS)
    assert (read.question, read.given[0].amount, read.given[0].unit) == ("unknown_source", 3.0, "piece")


def named(text: str, source: Source = TABLETS):
    read = read_amount(text, SOURCES, WORDS, source)
    return read.question, [one.grams for one in read.given]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (".5 pieces", [2.0]),
        (",5 g", [0.5]),
        ("~.5 tablets", [2.0]),
        ("3 pieces + .5 tablets", [12.0, 2.0]),
        ("3 pieces,2 ml", [12.0, 0.5]),
    ],
)
def test_a_number_without_its_nought_is_the_part_it_says(text, expected):
    assert grams(text) == expected


@pytest.mark.parametrize("text", ["1..5 pieces", "3;2 pieces", "1O pieces", "1.2.3 g", "3 ,5 pieces", "3'5 g"])
def test_a_miswritten_number_is_one_amount_that_is_asked_about(text):
    read = read_amount(text, SOURCES, WORDS)
    assert read.question == "unclear_amount"
    assert [one.grams for one in read.given] == [None]


OTHER_MEASURES = ["3 packs", "3 dozen", "4 oz", "5 mg", "3 kcal", "3 halves", "3 BE", "3 mmol", "3 mg/dL", "3 minutes"]


@pytest.mark.parametrize("text", [*OTHER_MEASURES, "3 kg", "3 blorb", "3 %", "<3", "#3"])
def test_beside_a_source_a_word_or_sign_of_another_measure_is_asked_about(text):
    question, given = named(text)
    assert question in {"unknown_source", "unclear_amount"}
    assert given == [None]


@pytest.mark.parametrize(
    ("text", "expected"),
    [("3", 12.0), ("3 candies", 12.0), ("ca. 3", 12.0), ("3 (felt low)", 12.0), ("3, then sport", 12.0), ("½", 2.0)],
)
def test_beside_a_source_its_own_words_and_remarks_ask_nothing(text, expected):
    assert named(text) == ("", [expected])


def test_half_of_a_bottle_is_no_half_millilitre():
    bottle = Source(name="night bottle", form=Form.LIQUID, grams_per_ml=0.25, stated_as=StatedAs.ANHYDROUS)
    for text in ("half bottle", "1 bottle", "½ bottle"):
        assert named(text, bottle) == ("bottle_size", [None])
    assert named("20 ml", bottle) == ("", [5.0])


@pytest.mark.parametrize(
    "text",
    [
        "3 + 2 tablets", "3 tablets, later 2 more", "2 tablets = 8 g", "2 tablets (10 g)", "4 g then 4 g",
        "3 tablets 8 g", "2, then 1 tablet", "1 tablet nach 15 min noch 1", "after 2 tablets", "offered 2 tablets",
        "2 tablets in the pocket", "drei viertel tablets", "ein paar tablets", "both got 2 tablets", "4 tabs, 15",
    ],
)  # fmt: skip
def test_a_number_or_word_that_is_not_used_is_a_question_about_one_amount(text):
    read = read_amount(text, SOURCES, WORDS)
    assert read.question
    assert [one.grams for one in read.given] == [None]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2 tablets (8 g)", [8.0]),
        ("8 g (2 tablets)", [8.0]),
        ("2 tablets of 4 g", [8.0]),
        ("2 tablets + 8 g", [8.0, 8.0]),
        ("62 again, 2 tablets, low at 62", [8.0]),
        ("2 tablets, low at 62", [8.0]),
    ],
)
def test_an_amount_told_in_pieces_and_in_grams_is_one(text, expected):
    assert grams(text) == expected


@pytest.mark.parametrize("text", ["2 (8 g)", "3 (2)", "2 = 8 g", "2:1", "4, 4"])
def test_two_numbers_in_one_cell_of_amounts_are_one_amount_or_asked(text):
    question, given = named(text)
    assert given in ([8.0], [None])
    assert bool(question) == (given == [None])


def test_the_column_says_of_what_and_a_word_for_pieces_only_counts():
    small = Source(name="dextro", form=Form.TABLET, grams_per_piece=1.5, stated_as=StatedAs.ANHYDROUS)
    both = (TABLETS, small)
    assert [one.grams for one in read_amount("2 tablets", both, WORDS, small).given] == [3.0]
    read = read_amount("2 dextro", both, WORDS, TABLETS)
    assert (read.question, read.given[0].grams) == ("unclear_amount", None)


@pytest.mark.parametrize(
    "text",
    [
        "15 ml of liquid (60 ml bottle)",
        "3 tabs (2 spat out)",
        "3 tabs, spat one out",
        "3 tabs, 10 min later 2 more",
        "3 tabs for later",
        "3 tabs. 2 tabs",
    ],
)
def test_two_amounts_that_may_be_one_are_one_question_and_nothing_of_them_is_known(text):
    read = read_amount(text, SOURCES, WORDS)
    assert (read.question, [(one.amount, one.grams) for one in read.given]) == ("unclear_amount", [(None, None)])


def test_pieces_of_several_sources_with_their_grams_behind_are_not_answered_and_added():
    small = Source("candy", Form.TABLET, 1.0)
    read = read_amount("3 tabs (12 g)", (*SOURCES, small), WORDS)
    assert (read.question, [one.grams for one in read.given]) == ("unclear_amount", [None])


@pytest.mark.parametrize(
    ("text", "amount"), [("anderthalb Tabletten", 1.5), ("zweieinhalb Tabl.", 2.5), ("3 Stücke", 3)]
)
def test_german_halves_and_plurals(text, amount):
    assert grams(text) == [4.0 * amount]


@pytest.mark.parametrize(
    "text",
    ["3 sugar-free tabs", "3 tabs zuckerfrei", "> 5 tabs", "3 chocolate tablets", "1 tube tabs", "1 tube tablets"],
)
def test_what_may_hold_no_glucose_or_another_number_of_pieces_is_asked_about(text):
    read = read_amount(text, SOURCES, WORDS)
    assert read.question
    assert [one.grams for one in read.given] == [None]


def test_an_arrow_between_readings_is_no_bound():
    assert grams("3 tabs, bg 55->95") == [12.0]


@pytest.mark.parametrize(
    "text",
    [
        *("3 tablets, ate half", "3 tablets, half left", "1 tablet then another", "2 tablets and another one"),
        *("2 tablets instead of juice", "3 tablets found in bed", "noch 3 tablets da"),
        *("3 tablets für nachher", "3 tablets, Rest liegen gelassen", "3 tablets at most", "over 3 tablets"),
        *("au plus 3 tablets", "3 tablets for the trip", "maybe 3 tablets", "3 tablets, most of it"),
        *("wrong: 3 tablets", "3 tablets and again", "Papa 2 tablets gegessen", "3 tablets, he ate two"),
        *("2 tablets (half)", "4 (halbe tablets)", "20 ml bottle, 5 ml left", "20 ml bottle, drank half"),
        *("two, three tablets", "3/5 tablets"),
        *("3 tablets, niet gegeven", "3 tablets, non mangiati", "3 tablets [check]"),
    ],
)
def test_words_that_leave_the_amount_open_are_asked_about(text):
    read = read_amount(text, SOURCES, load_words(None))
    assert read.question
    assert all(one.grams is None for one in read.given)


PLAIN = (
    *("3 tablets", "3 tablets, felt shaky", "Papa gab 3 tablets", "3 tablets, woke at 62", "3 tablets no juice"),
    *("3 tablets, schlief gleich wieder ein", "3 tablets, kein Insulin", "no insulin, 3 tablets", "3 tablets, 62"),
    *(
        "3 tablets, after a bad dream",
        "3 tablets, half asleep",
        "3 tablets, one hour after dinner",
        "gab ihr 3 tablets",
    ),
    *("3 tablets, trank ein Glas Wasser", "3 tablets with a glass of water", "3 tablets, 15 min later 95"),
    *("3 tablets, nach 15 min 95", "3 tablets without milk", "3 tablets, no symptoms", "3 tablets, did not wake up"),
)


@pytest.mark.parametrize("text", PLAIN)
def test_other_words_leave_it_as_it_is(text):
    assert grams(text) == [12.0]


@pytest.mark.parametrize("cell", ["01. Mai", "2. Jan.", "01.05.", "2 (struck out)", "2 (waren 3)"])
def test_a_cell_that_a_sheet_made_a_day_of_or_that_was_taken_back_is_asked_about(cell):
    assert named(cell) == ("unclear_amount", [None])


@pytest.mark.parametrize(
    "text", ["2 Stück Banane", "Banane 2 Stück", "3 Stück Schokolade", "2 Stück Kuchen und 3 Stück"]
)
def test_food_in_the_word_that_counts_anything_is_no_glucose_until_it_is_said(text):
    candy = Source("candy", Form.TABLET, 3.0, stated_as=StatedAs.ANHYDROUS, other_names=("Stück",))
    assert all(amount is None for amount in grams(text, (candy,)))


@pytest.mark.parametrize(("text", "given"), [("3 tablets, glucagon ready", False), ("glucagon given, 3 tablets", True)])
def test_glucagon_that_was_only_ready_was_not_given(text, given):
    assert ("glucagon" in read_amount(text, SOURCES, load_words(None)).happenings) is given


@pytest.mark.parametrize(
    "text",
    ["2 tablets, one vomited", "2 tablets, vomited one", "2 tablets, one came up", "2 Tabletten, eins erbrochen",
     "3 Tabletten, zwei davon erbrochen", "2 Tabletten, alles erbrochen", "2 Tabletten, eins kam wieder"],
)  # fmt: skip
def test_what_came_up_in_part_is_asked_about_in_both_languages(text):
    found = read_amount(text, SOURCES, WORDS)
    assert found.question
    assert [one.grams for one in found.given] == [None] * len(found.given)


@pytest.mark.parametrize(
    "text", ["2 tablets, vomited", "2 Tabletten, danach erbrochen", "2 Tabletten, hat sich übergeben"]
)
def test_vomiting_beside_an_amount_is_a_remark(text):
    found = read_amount(text, SOURCES, WORDS)
    assert (found.question, found.remarks) == ("", ("vomited",))


@pytest.mark.parametrize("text", ["football 60 min", "60 min Sport", "swimming 1 h", "Fußballtraining 60 min"])
def test_how_long_sport_was_is_no_amount(text):
    found = read_amount(text, SOURCES, WORDS)
    assert (found.given, found.question, found.happenings) == ((), "", ("activity",))


def test_glucose_beside_sport_is_read():
    assert grams("football 60 min, 3 tablets") == grams("3 tablets after football 60 min") == [12.0]


LABELS = ("Summe", "plan", "ready", "goal", "Target", "max", "Limit", "Recommended", "Total", "Sum", "Never", "Test",
          "Example", "Soll", "Ziel", "Gesamt", "Empfehlung", "Nein", "Ohne", "Bis 22 Uhr", "T", "Mia hat")  # fmt: skip


@pytest.mark.parametrize("label", LABELS)
def test_an_amount_behind_a_colon_and_a_word_that_nobody_taught_us_is_asked_about(label):
    for text in (f"{label}: 3 tablets", f"low, {label} : 3 Stück"):
        found = read_amount(text, SOURCES, WORDS)
        assert (found.question, [one.grams for one in found.given]) == ("unclear_amount", [None])
    assert named(f"{label}: 3") == ("unclear_amount", [None])


@pytest.mark.parametrize(
    "label",
    ["low", "Hypo", "Mama", "school", "BG 55", "given", "before bed", "vor dem Sport", "in der Schule", "Menge",
     "Alarm", "felt low", "treated", "sensor 3,1", "nachts", "BZ", "first", "la nuit", "Uhr", "Fußball"],
)  # fmt: skip
def test_an_amount_behind_a_colon_and_words_of_when_where_or_how_is_that_amount(label):
    assert grams(f"{label}: 3 tablets") == [12.0]


OTHER_THINGS = ("1 tablet (vitamin D)", "1 tablet for headache", "1 tablet (headache)", "1 Tablette, Fieber",
                "2 pieces of sugar", "2 morceaux de sucre", "2 Stück Zucker", "1 Tablette, Ibuprofen",
                "5 ml (cough syrup)",
                "1 comprimé pour la fièvre", "1 tablet with vitamin C", "1 tablet (abcdol)")  # fmt: skip


@pytest.mark.parametrize("text", OTHER_THINGS)
def test_pieces_beside_a_word_for_a_medicine_or_table_sugar_are_asked_about(text):
    found = read_amount(text, SOURCES, WORDS)
    assert (found.question, [one.grams for one in found.given]) == ("unknown_source", [None])


@pytest.mark.parametrize(
    "beside",
    ["before bed", "vor dem Sport", "in der Schule", "(before bed)", "(school)", "(vor dem Sport)", "for the night",
     "for low", "(low)", "(58)", "(felt shaky)", ", schlief weiter", "(at Oma's)", "(woke up)", "(Papa)", "for hypo",
     "(gemerkt)", "für die Nacht", "(sensor 55)", "sugar low", "for low sugar", "(alarm)", "(12 g)", "pour la nuit",
     "(schlief)", "(slept through)", "(at the park)", "(vor Reiten)", "(antes de dormir)", "(CGM shows 55)"],
)  # fmt: skip
def test_pieces_beside_everyday_words_are_as_written(beside):
    assert grams(f"3 tablets {beside}") == [12.0]


def test_pieces_that_are_named_glucose_or_sugar_of_the_family_need_no_question_beside_a_fever():
    assert grams("3 Stück Traubenzucker (Fieber)") == [12.0]
    cubes = Source("cubes", Form.TABLET, 3.0, stated_as=StatedAs.ANHYDROUS, other_names=("Zucker",))
    assert grams("2 Stück Zucker", (cubes,)) == [6.0]


@pytest.mark.parametrize(
    "text", ["3 tablets, total", "Plan, 3 tablets", "3 Stück insgesamt", "nein, 3 Stück", "3 tablets, estimate"]
)
def test_an_amount_beside_a_word_for_a_total_a_plan_or_a_no_is_asked_about(text):
    found = read_amount(text, SOURCES, WORDS)
    assert (found.question, [one.grams for one in found.given]) == ("unclear_amount", [None])


@pytest.mark.parametrize(
    "text",
    ["2 tablets and at 19:30 one more", "2 tablets, at 19:05 another", "2 tablets, again at 19:05",
     "2 Stück, um 19:05 nochmal", "2 tablets, one more", "2 tablets and one more at 19:05"],
)  # fmt: skip
def test_a_further_amount_at_another_time_is_not_lost_but_asked_about(text):
    found = read_amount(text, SOURCES, WORDS)
    assert (found.question, [one.grams for one in found.given]) == ("unclear_amount", [None])


@pytest.mark.parametrize("text", ["2 tablets, 62 at 19:10", "another 2 tablets", "2 more tablets", "2 tablets again"])
def test_another_time_or_another_word_alone_leaves_the_amount_as_it_is(text):
    assert grams(text) == [8.0]
