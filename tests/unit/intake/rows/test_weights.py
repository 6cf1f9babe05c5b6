"""Weighings that are asked about: a jump, or far off the age."""

from datetime import date, timedelta

import pytest
from support.variants import BERLIN, NOW, PERSON, SINCE

from gramrise.domain.person import Dated, Person
from gramrise.intake import load_settings, read_file
from gramrise.intake.rows.weight_checks import weight_for_age_z

SETTINGS = load_settings()


def weighed(tmp_path, rows: str, person: Person = PERSON):
    (tmp_path / "w.csv").write_text("time,kg\n" + rows)
    return read_file(tmp_path / "w.csv", person, now_utc=NOW)[0]


def child(born: date, *weights: tuple[date, float], sex: str = "") -> Person:
    return Person("P1", born, Dated(((SINCE, BERLIN),)), sex=sex, weights_kg=Dated(weights))


def test_a_weight_that_jumps_by_a_fifth_in_a_month_is_asked_about(tmp_path):
    batch = weighed(tmp_path, "2026-03-01,38\n2026-04-01,46\n")
    (question,) = batch.questions
    assert (question.kind, question.key) == ("weight_jump", "2026-04-01 46")
    assert question.answers == ("pounds", "kilograms", "leave_out")
    assert batch.weights.height == 2


def test_of_a_slip_between_two_weighings_that_go_together_only_the_slip_is_asked_about(tmp_path):
    batch = weighed(tmp_path, "2026-03-01,38\n2026-04-01,46\n2026-04-10,38.2\n")
    assert [question.about["kg"] for question in batch.questions] == [46]


def test_a_weight_that_contradicts_the_one_told_for_the_same_day_is_asked_about(tmp_path):
    person = child(date(1980, 1, 1), (date(2026, 4, 1), 60.0))
    (question,) = weighed(tmp_path, "2026-04-01,80\n", person).questions
    assert "60.0 kg of that day" in question.sentence


def test_the_same_growth_over_a_year_is_not(tmp_path):
    assert weighed(tmp_path, "2025-03-01,38\n2026-04-01,46\n").questions == ()


@pytest.mark.parametrize(
    ("years", "before", "after", "asked"),
    [
        (9.4, 30.5, 45.0, True),  # half as heavy again in three months
        (9.4, 30.5, 24.6, True),
        (9.4, 30.5, 33.5, False),
        (1.0, 9.8, 10.7, False),  # a small child: CDC 2000 medians grow by a tenth in these months
        (30.0, 60.0, 66.0, False),
    ],
)
def test_a_jump_is_judged_beside_growth_whatever_lies_between(tmp_path, years, before, after, asked):
    born = date(2026, 3, 1) - timedelta(days=round(365.25 * years))
    person = child(born, (date(2025, 12, 1), before))
    assert bool(weighed(tmp_path, f"2026-03-01,{after}\n", person).questions) is asked


def test_a_weight_of_a_day_before_the_birth_is_set_aside(tmp_path):
    batch = weighed(tmp_path, "2014-02-27,38\n2026-03-01,38\n", child(date(2014, 3, 1)))
    assert batch.weights["on"].to_list() == [date(2026, 3, 1)]
    assert [held.trouble.code for held in batch.quarantine] == ["time_out_of_range"]


def test_a_weight_is_seen_beside_those_already_known(tmp_path):
    person = child(date(2014, 1, 1), (date(2026, 3, 1), 40.0))
    (question,) = weighed(tmp_path, "2026-03-20,88\n", person).questions
    assert question.about["kg_if_pounds"] == pytest.approx(39.9, abs=0.05)


def test_pounds_written_as_kilograms_lie_far_off_the_age(tmp_path):
    person = child(date(2016, 3, 1), sex="boy")  # ten years old: median 32.1 kg, CDC 2000
    (question,) = weighed(tmp_path, "2026-03-01,71\n", person).questions  # 71 lb are 32.2 kg
    assert question.kind == "weight_for_age"
    assert weighed(tmp_path, "2026-03-01,32.2\n", person).questions == ()


def test_a_grown_person_is_not_seen_against_a_childs_table(tmp_path):
    assert weighed(tmp_path, "2026-03-01,120\n", child(date(1980, 1, 1))).questions == ()


@pytest.mark.parametrize(("sex", "years", "median"), [("boy", 10, 32.1), ("boy", 15, 56.5), ("girl", 10, 33.1)])
def test_the_median_of_the_cdc_tables_is_the_middle(sex, years, median):
    """Medians of the CDC 2000 growth charts, weight for age."""
    assert weight_for_age_z(median, years, sex, SETTINGS) == pytest.approx(0, abs=0.03)


def test_two_weights_of_one_day_that_lie_apart_are_both_set_aside(tmp_path):
    batch = weighed(tmp_path, "2026-03-13,31.2\n2026-03-13,34.9\n2026-03-20,31.4\n")
    assert batch.weights.select("on", "kg").rows() == [(date(2026, 3, 20), 31.4)]
    assert [(held.trouble.code, held.trouble.row) for held in batch.quarantine] == [
        ("two_weights", 2),
        ("two_weights", 3),
    ]


def test_of_two_near_weights_of_one_day_the_later_stands_and_the_other_is_named(tmp_path):
    batch = weighed(tmp_path, "2026-03-13 19:00,31.6\n2026-03-13 07:00,31.2\n")
    assert batch.weights.select("on", "kg").rows() == [(date(2026, 3, 13), 31.6)]
    assert [held.trouble.row for held in batch.quarantine] == [3]
