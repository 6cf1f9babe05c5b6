"""What page 1 says a number rests on."""

import pytest

from gramrise.report.page_one import _basis
from gramrise.report.view import FactorView
from gramrise.report.words import words_for


def band(number, pairings):
    fields = dict.fromkeys(FactorView.model_fields)
    told = {
        "single_mg_dl_per_g": (),
        "lacks": (),
        "band": "daytime",
        "hours": "07:00-22:00",
        "state": "thin",
        "pairings_used": pairings,
    }
    return FactorView(**(fields | told | {"factor_mg_dl_per_g": number, "starting_mg_dl_per_g": 10.0}))


@pytest.mark.parametrize(
    ("number", "pairings", "said"),
    [
        (10.0, 0, "the first guess from the weight table"),
        (8.0, 0, "other hours' treatments"),
        (8.0, 3, "from 3 treatments"),
    ],
)
def test_a_number_moved_by_other_hours_is_not_called_the_weight_tables(number, pairings, said):
    assert said in _basis(band(number, pairings), True, False, words_for("en", "mg/dL", "UTC"))
