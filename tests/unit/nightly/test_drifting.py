"""What drift is measured from: the latest sign-off that was accepted, or a day."""

from datetime import UTC, date, datetime

import pytest
from support.level_people import person

from gramrise.domain.problems import WrongUse
from gramrise.domain.references import SignedBand, SignedReference
from gramrise.nightly import points_on, signed_points

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)


def signed(number, as_of, hours="07:00-22:00", **changed):
    band = SignedBand(
        band="daytime", hours=hours, factor_mg_dl_per_g=8.0, p05_factor_mg_dl_per_g=6.0, p95_factor_mg_dl_per_g=10.0,
        weight_adjusted_mg_dl_kg_per_g=256.0, pairings_used=20, state="own",
    )  # fmt: skip
    whole = SignedReference(
        person_id="mia", number=number, signed_at_utc=NOW, signed_by="R. Lindqvist", as_of=as_of, bands=(band,),
        weight_kg=32.0, valid_until=date(2026, 12, 1), model_version="8",
    )  # fmt: skip
    return whole.model_copy(update=changed)


def test_the_latest_that_was_accepted_and_not_taken_back_counts():
    history = [
        signed(4, date(2026, 5, 4), withdrawn_on=date(2026, 5, 5)),
        signed(3, date(2026, 5, 3), verdict="seen_not_accepted"),
        signed(2, date(2026, 5, 2), valid_until=date(2026, 5, 20)),
        signed(1, date(2026, 5, 1)),
    ]
    (point,) = signed_points(person(), history)
    assert (point.band, point.as_of, point.factor_mg_dl_per_g, point.weight_kg) == (
        "daytime",
        date(2026, 5, 2),
        8.0,
        32.0,
    )


def test_a_band_of_other_hours_has_no_reference():
    assert signed_points(person(), [signed(1, date(2026, 5, 1), hours="08:00-21:00")]) == ()
    assert signed_points(person(), []) == ()


def test_a_day_is_a_reference_of_all_bands_unless_it_is_to_come():
    assert [point.band for point in points_on(person(), date(2026, 6, 1), NOW)] == ["daytime", "overnight"]
    with pytest.raises(WrongUse, match="still to come"):
        points_on(person(), date(2026, 6, 2), NOW)
