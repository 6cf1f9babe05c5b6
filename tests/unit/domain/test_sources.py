"""Grams of anhydrous glucose in what people swallow."""

import pytest

from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import AmountUnit, Form, Source, StatedAs


def liquid(stated_as=StatedAs.ANHYDROUS):
    return Source("bottle", Form.LIQUID, grams_per_ml=15 / 60, stated_as=stated_as)


def test_five_millilitres_of_15_g_in_60_ml_hold_one_and_a_quarter_grams():
    # Worked by hand: 15 / 60 x 5 = 1.25.
    assert liquid().grams(5, AmountUnit.ML) == pytest.approx(1.25)


def test_three_candies_of_a_gram_of_monohydrate_hold_2_73_g_of_glucose():
    # 3 x 180.156 / 198.171 (USP dextrose monograph molar masses) = 2.7273.
    candy = Source("candy", Form.TABLET, grams_per_piece=1, stated_as=StatedAs.MONOHYDRATE)
    assert candy.grams(3, AmountUnit.PIECE) == pytest.approx(2.7273, abs=5e-5)


def test_a_strength_nobody_explained_is_taken_as_printed_and_marked():
    unsaid = liquid(StatedAs.UNKNOWN)
    assert unsaid.grams(60, AmountUnit.ML) == pytest.approx(15)
    assert unsaid.may_be_weaker
    assert not liquid().may_be_weaker


def test_millilitres_of_a_tablet_are_refused():
    tablet = Source("tablet", Form.TABLET, grams_per_piece=4)
    with pytest.raises(WrongUse, match="counted in piece"):
        tablet.grams(5, AmountUnit.ML)


@pytest.mark.parametrize("content", [{}, {"grams_per_piece": 4, "grams_per_ml": 0.2}, {"grams_per_piece": 0}])
def test_a_source_states_its_content_exactly_once_and_above_zero(content):
    with pytest.raises(WrongUse, match="grams per piece or grams per mL"):
        Source("x", Form.TABLET, **content)
