"""What a note says is left in a tin that the family has counted before."""

from datetime import UTC, datetime, timedelta

import pytest
from support.place_people import child

from gramrise.domain.counts import NotedCount
from gramrise.intake.context import ReadContext
from gramrise.intake.rows.noted_counts import count_said, untimed_counts
from gramrise.intake.settings import shipped_settings
from gramrise.intake.words import shipped_words

NOW = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)
CONTEXT = ReadContext(child(), shipped_settings(), shipped_words(), NOW, ("school tin", "tin", "Schuldose"))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("tin: 7 left", ("tin", 7)),
        ("School tin - 7 pieces left.", ("school tin", 7)),
        ("school tin: left 7", ("school tin", 7)),
        ("7 left in the school tin", ("school tin", 7)),
        ("Schuldose: noch 7 Stück übrig", ("Schuldose", 7)),
        ("tin: 0 left", ("tin", 0)),
        ("Schuldose: noch 7 Stück", ("Schuldose", 7)),
        ("Schuldose: nur noch 5 Stück", ("Schuldose", 5)),
        ("Schuldose: noch 7 Stück Traubenzucker", ("Schuldose", 7)),
        ("noch 6 Stück in der Schuldose", ("Schuldose", 6)),
        ("Schuldose: noch 9", ("Schuldose", 9)),
        ("still 6 pieces in the school tin", ("school tin", 6)),
        ("noch 2 Stück aus der Schuldose gegeben", None),
        ("tin: 7 full", None),
        ("tin: 7", None),
        ("bag: 7 left", None),
        ("tin: 7 or 8 left", None),
        ("3 pieces, 7 left in the tin", None),
        ("tin: 7,5 left", None),
        ("tin: -7 left", None),
        ("", None),
    ],
)
def test_only_a_known_tin_with_a_whole_number_that_is_left_is_a_count(text, said):
    assert count_said(text, CONTEXT) == said


def test_a_line_without_a_time_was_counted_when_the_note_was_saved():
    saved = NOW - timedelta(minutes=30, seconds=12)
    text, counts = untimed_counts("10:40 3 pieces\ntin: 7 left\n11:00 2 pieces", CONTEXT, saved)
    assert text == "10:40 3 pieces\n\n11:00 2 pieces"
    assert counts == [NotedCount("tin", datetime(2026, 3, 2, 17, 29, tzinfo=UTC), 7)]


def test_an_old_note_does_not_say_when_its_line_without_a_time_was_counted():
    old = "tin: 7 left"
    assert untimed_counts(old, CONTEXT, NOW - timedelta(days=9)) == (old, [])
