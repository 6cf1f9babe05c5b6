"""Pictures of treatments as bytes and back."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from gramrise.domain.frames import PATHS
from gramrise.domain.pictures import PATH_STEP_MIN, Drawn, paths_of

FIRST = datetime(2026, 3, 2, 12, 0, 30, tzinfo=UTC)
FIRST_US = int(FIRST.timestamp()) * 1_000_000


def test_a_picture_comes_back_with_a_point_every_five_minutes():
    untreated, sd, fitted = np.array([81.25, 74.5, 66.0]), np.array([3.0, 4.0, 5.5]), np.array([81.0, 80.0, 95.125])
    frame = paths_of("mia", [(FIRST_US, Drawn(-5, 74.5, 30.0, untreated, sd, fitted).packed())])
    assert frame["first_dose_utc"].to_list() == [FIRST] * 3
    assert frame["at_utc"].to_list() == [FIRST + timedelta(minutes=PATH_STEP_MIN * n) for n in (-1, 0, 1)]
    for name, values in (("untreated_mg_dl", untreated), ("untreated_sd_mg_dl", sd), ("fitted_mg_dl", fitted)):
        assert frame[name].to_list() == values.tolist()


def test_a_picture_is_good_to_a_ten_thousandth_of_a_mg_dl():
    values = np.linspace(40.0, 400.0, 77)
    frame = paths_of("mia", [(FIRST_US, Drawn(0, 70.0, 40.0, values, values, values).packed())])
    assert frame["untreated_mg_dl"].to_list() == pytest.approx(values.tolist(), abs=1e-4)


def test_what_a_picture_says_in_numbers_comes_back_too():
    line = np.array([80.0])
    drawn = Drawn.unpacked(Drawn(5, 81.5, 42.25, line, line, line).packed())
    assert drawn[:3] == (5, 81.5, 42.25)


def test_no_pictures_are_no_paths():
    assert paths_of("mia", []).equals(PATHS.empty())
