"""`gramrise mix` as a tired parent types it."""

import re
from datetime import UTC, datetime

import pytest
from typer.testing import CliRunner

from gramrise.cli.context import Household
from gramrise.cli.main import app
from gramrise.domain.sources import AmountUnit
from gramrise.store import Store

PERSON = ("person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31.5")
WANTED = ("mix", "night bottle", "--strength", "1.25 g per 5 mL", "--volume", "750")
MIXED = ("mix", "night bottle", "--powder", "anhydrous", "--powder-g", "188", "--made-up-to", "750")


@pytest.fixture
def typed(tmp_path):
    def command(*words):
        done = CliRunner().invoke(app, ["--home", str(tmp_path), *words])
        return done.exit_code, " ".join(done.output.split()), done.exception

    assert command(*PERSON)[0] == 0
    return command


def test_a_recipe_from_a_cold_start_names_powder_water_strength_weight_and_days(typed):
    status, told, _ = typed(*WANTED, "--powder", "anhydrous")
    assert status == 0, told
    for words in ("188 g of anhydrous", "750 mL line", "633 mL of water", "1.25 g of glucose in 5 mL", "1.14 g in 5 mL",
                  "819 g", "within 7 days", "Not logged"):  # fmt: skip
        assert words in told


def test_without_the_powders_form_nothing_is_worked_out(typed):
    status, _, trouble = typed(*WANTED)
    assert status != 0
    assert "look at the bag" in str(trouble)


def test_line_and_poured_water_are_never_confused(typed):
    _, _, trouble = typed("mix", "night bottle", "--powder", "anhydrous", "--powder-g", "188")
    assert "how was the water measured?" in str(trouble)
    _, told, _ = typed("mix", "night bottle", "--powder", "anhydrous", "--powder-g", "188", "--water", "750")
    assert "1.08 g of glucose in 5 mL" in told


def test_a_logged_batch_gives_its_strength_and_a_corrected_powder_changes_what_was_taken(typed):
    status, told, trouble = typed(*MIXED, "--weighed", "818", "--done")
    assert (status, trouble) == (0, None), told
    assert "scale and line agree" in told
    assert "3.76 g of glucose" in typed("give", "15 ml night bottle")[1]
    status, told, _ = typed("mix", "--correct", "1", "--powder", "monohydrate")
    assert status == 0
    assert "2.28 g in 10 mL" in told
    listed = typed("mix")[1]
    assert "188 g monohydrate" in listed
    assert "2.28" in listed


def test_a_failed_weight_withholds_the_strength_and_says_so(typed):
    status, told, _ = typed(*MIXED, "--weighed", "938", "--done")
    assert status == 1
    assert "nobody knows the strength" in told
    assert "unknown" in typed("mix")[1]


def test_the_saving_against_the_shop_is_told(typed):
    _, told, _ = typed(*WANTED, "--powder", "anhydrous", "--price-per-kg", "10", "--shop-price", "2")
    assert "92 % saved" in told


def test_the_sheet_is_written_and_named(typed, tmp_path):
    status, told, _ = typed(*WANTED, "--powder", "monohydrate", "--sheet", "--out", str(tmp_path / "out"))
    assert status == 0, told
    assert [file.name for file in (tmp_path / "out").iterdir()] == ["mia-mixing-night-bottle.pdf"]


def test_a_label_may_be_typed_as_it_is_printed(typed):
    told = typed("person", "source", "mia", "candy", "--form", "tablet", "--label", "12 g in 13 pieces")[1]
    assert re.search(r"0\.923 g of glucose per piece", told)


def liquids(home):
    with Store.open(home) as store:
        return [each.name for each in store.person("mia").sources_now() if each.unit is AmountUnit.ML]


def test_a_bottle_whose_strength_nobody_knows_any_more_has_no_grams_no_card_and_no_stock(typed, tmp_path):
    """It was to be poured away, and `give`, stock and card went on with its strength of before."""
    typed(*MIXED, "--weighed", "818", "--done")
    assert liquids(tmp_path) == ["night bottle"]
    typed("mix", "--correct", "1", "--weighed", "950")
    assert liquids(tmp_path) == []
    status, told, _ = typed("give", "20 ml night bottle")
    assert status == 1
    assert "grams not known" in told
    assert "night bottle" not in typed("stock")[1]
    typed("undo", "3")
    assert liquids(tmp_path) == ["night bottle"]


def test_a_bottle_past_its_days_is_named_where_it_is_given_from(typed, monkeypatch):
    monkeypatch.setattr(Household, "now_utc", lambda _: datetime(2026, 11, 10, 12, tzinfo=UTC))
    typed(*MIXED, "--weighed", "818", "--done")
    assert "pour it away" not in typed("give", "20 ml night bottle")[1]
    monkeypatch.setattr(Household, "now_utc", lambda _: datetime(2026, 11, 28, 12, tzinfo=UTC))
    assert "was to be used by 17 Nov 2026: pour it away" in typed("give", "20 ml night bottle")[1]
