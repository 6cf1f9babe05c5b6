"""The growth reference we carry against the published table, and against values printed beside it."""

import csv
import os
from pathlib import Path

import numpy as np
import pytest

from gramrise.estimate.body_weight import growth_references

pytestmark = pytest.mark.outside
approx = pytest.approx
Z_OF_PERCENTILE = {"P3": -1.8807936, "P5": -1.6448536, "P50": 0.0, "P95": 1.6448536, "P97": 1.8807936}


def published_rows(name):
    folder = os.environ.get("GRAMRISE_OUTSIDE_DATA")
    path = Path(folder) / "science" / name if folder else None
    if path is None or not path.is_file():
        pytest.skip(f"GRAMRISE_OUTSIDE_DATA does not name a folder with science/{name}: the table was NOT compared")
    with path.open() as file:
        return list(csv.DictReader(file))


def test_every_row_we_carry_is_the_published_one():
    # CDC 2000 growth charts, wtage.csv, 24-240 months, 436 rows; under 24 months wtageinf.csv.
    rows = published_rows("cdc_weight_for_age_lms.csv")
    rows += [row for row in published_rows("cdc_weight_for_age_infant_lms.csv") if float(row["Agemos"]) < 24]
    carried = 0
    for number, sex in (("1", "boy"), ("2", "girl")):
        reference = growth_references()[sex]
        mine = sorted((row for row in rows if row["Sex"] == number), key=lambda row: float(row["Agemos"]))
        for column, values in zip(
            ("Agemos", "L", "M", "S"), (reference.age_months, reference.l, reference.m_kg, reference.s), strict=True
        ):
            assert values.tolist() == [float(row[column]) for row in mine]
        carried += len(mine)
    assert carried == 436 + 2 * 25


def test_the_printed_percentiles_are_reproduced():
    # The same table prints percentiles in kg; LMS reproduces them within 3e-7 kg.
    rows = list(published_rows("cdc_weight_for_age_lms.csv"))
    assert len(rows) > 400
    for row in rows:
        reference = growth_references()["boy" if row["Sex"] == "1" else "girl"]
        age = np.array([float(row["Agemos"])])
        for name, z in Z_OF_PERCENTILE.items():
            kg = reference.weight_kg(np.array([z]), age)[0]
            assert kg == approx(float(row[name]), abs=2e-6)
            assert reference.z_score(np.array([kg]), age)[0] == approx(z, abs=1e-6)


def test_the_middle_child_of_ten_years_and_half_a_month_weighs_32_1_or_33_1_kg():
    # Values of the table as published (boys / girls, 120.5 months), so that the check also runs without the file.
    for sex, kg, low, high in (
        ("boy", 32.08799062, 24.94392079, 46.15753154),
        ("girl", 33.06392318, 24.86516468, 48.17500585),
    ):
        found = growth_references()[sex].weight_kg(np.array([0.0, -1.6448536, 1.6448536]), np.full(3, 120.5))
        assert found.tolist() == approx([kg, low, high], abs=1e-5)
