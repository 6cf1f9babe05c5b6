"""What goes out as FHIR R4 is FHIR R4: by the models of `fhir.resources`, and by our own intake that reads it back.

Sources: HL7 FHIR 4.0.1 (the package's R4B models: for the resources used here the same elements and bindings);
HL7 CGM guide 1.0.0, profile of a sensor reading (code 99504-3, value in mg/dL, effectiveDateTime).
"""

import json
from dataclasses import replace
from datetime import timedelta

import polars as pl
import pytest
from support.report_people import BORN, NOW, TABLETS, a_week, person

from gramrise.domain.frames import DOSES
from gramrise.domain.person import Dated
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.domain.units import MG_DL_PER_MMOL_L
from gramrise.nightly import take_in_file
from gramrise.report.fhir.bundle import fhir_bundle
from gramrise.store import Store

pytestmark = pytest.mark.outside

BOTTLE = Source("night bottle", Form.LIQUID, grams_per_ml=0.25, stated_as=StatedAs.MONOHYDRATE, sealed=False)
LATER = NOW + timedelta(hours=3)
# What a record of an amount given holds of the log; who noticed and what was remarked goes out as words only.
OF_THE_DOSE = ["taken_at_utc", "source", "ordinal", "form", "amount", "amount_unit", "grams", "may_be_weaker"]


def _family():
    """A week with pieces, mL of a home-mixed bottle, bare grams, a value beyond the range, and levels from mmol/L."""
    who = person(sources=Dated(((BORN, (TABLETS, BOTTLE)),)))
    inputs, found = a_week(who)
    at = inputs.doses["taken_at_utc"].to_list()
    rows = [
        _dose(at[0], "tablets", "tablet", 6.0, "piece", 6.0 * 0.92),
        _dose(at[1], "night bottle", "liquid", 20.0, "mL", BOTTLE.grams(20.0, BOTTLE.unit)),
        _dose(at[2], "", "gel", 8.5, "g", 8.5, weaker=True),
        _dose(at[3], "", "unknown", 4.0, "g", 4.0, weaker=True),
    ]
    number = pl.int_range(pl.len())
    readings = inputs.readings.with_columns(
        glucose_mg_dl=pl.when(number % 3 == 0).then(5.4 * MG_DL_PER_MMOL_L).otherwise(pl.col("glucose_mg_dl")),
        range=pl.when(number == 100).then(pl.lit("below")).otherwise(pl.col("range")),
    ).with_columns(glucose_mg_dl=pl.when(number == 100).then(40.0).otherwise(pl.col("glucose_mg_dl")))
    doses = DOSES.check(pl.DataFrame(rows, schema=DOSES.schema))
    return replace(inputs, readings=readings, doses=doses), found


def _dose(at, source, form, amount, unit, grams, weaker=False):
    return {
        "person_id": "mia", "taken_at_utc": at, "source": source, "ordinal": 1, "form": form, "amount": amount,
        "amount_unit": unit, "grams": grams, "may_be_weaker": weaker, "remarks": [], "origin": "file", "noticed": "",
    }  # fmt: skip


@pytest.fixture(scope="module")
def written():
    inputs, found = _family()
    return fhir_bundle(inputs, found, household="0123456789abcdef", now_utc=LATER, days=28)


def test_every_record_holds_against_the_models_of_the_standard(written):
    resources = pytest.importorskip("fhir.resources.R4B", reason="NOT RUN: fhir.resources is missing")
    entries = json.loads(written)["entry"]
    readings = [entry for entry in entries if entry["request"]["url"] == "Observation"][:40]
    others = [
        entry for entry in entries if entry["request"]["url"] != "Observation" or "component" in entry["resource"]
    ]
    chosen = [*readings, *others]
    kinds = {entry["resource"]["resourceType"] for entry in chosen}
    assert kinds == {"CodeSystem", "Device", "Patient", "Observation", "MedicationAdministration", "Provenance"}
    bundle = {**json.loads(written), "entry": chosen}
    checked = resources.get_fhir_model_class("Bundle").model_validate(bundle)
    assert len(checked.entry) == len(chosen) > 50


def test_our_own_intake_reads_back_the_same_readings_and_glucose_given(written, tmp_path):
    inputs, _ = _family()
    file = tmp_path / "mia.json"
    file.write_text(written, "utf-8")
    with Store.open(tmp_path / "home") as store:
        store.save_person(inputs.person)
        taken = take_in_file(store, tmp_path / "home", inputs.person, file, LATER)
        stored = store.inputs("mia")
    assert (taken.quarantine, taken.questions_n) == ([], 0)
    assert stored.readings.drop("offset_minutes").equals(inputs.readings.drop("offset_minutes"))
    sent, read = (
        frame.select(OF_THE_DOSE).with_columns(pl.col("grams").round(3)) for frame in (inputs.doses, stored.doses)
    )
    assert read.to_dicts() == sent.to_dicts()
    assert "of this program, no input." in " ".join(taken.remarks)


def test_brought_back_into_the_same_home_it_changes_nothing(written, tmp_path):
    inputs, _ = _family()
    file = tmp_path / "mia.json"
    file.write_text(written, "utf-8")
    again = tmp_path / "again.json"
    again.write_text(written + "\n", "utf-8")
    with Store.open(tmp_path / "home") as store:
        store.save_person(inputs.person)
        first, second = (take_in_file(store, tmp_path / "home", inputs.person, each, LATER) for each in (file, again))
    assert first.rows == inputs.readings.height + inputs.doses.height
    assert second.rows == 0
    assert sum(summary.already_known for summary in second.summaries) == first.rows
