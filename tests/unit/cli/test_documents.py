"""What programs can read: promised keys, documents that obey their own schema."""

import json

import jsonschema
import polars as pl
import pytest

from gramrise.cli import documents
from gramrise.domain import frames
from gramrise.domain.problems import WrongUse

# Keys that programs may rely on.
PROMISED = {
    "readings": "person time_utc glucose_mg_dl range",
    "lows": "person start_utc end_utc nadir_mg_dl level outcome probability_treated grams",
    "treatments": "person first_dose_utc class doses_n grams sources band",
    "pairings": "person first_dose_utc class doses_n grams form band start_seen_mg_dl start_estimated_mg_dl "
    "rise_seen_mg_dl rise_estimated_mg_dl factor_mg_dl_per_g factor_sd_mg_dl_per_g verdict reasons",
    "factors": "person band as_of weight_kg factor_mg_dl_per_g p05_factor_mg_dl_per_g p95_factor_mg_dl_per_g "
    "starting_mg_dl_per_g weight_adjusted_mg_dl_kg_per_g pairings_used state",
}


def one_row(contract):
    """A frame of one row in which every column that may be null is null."""
    frame = contract.empty()
    values = {}
    for column in contract.columns:
        if column.name in documents.NEVER_NULL or column.name in contract.order:
            plain = {pl.String: "x", pl.Int32: 30}
            values[column.name] = plain.get(type(column.dtype), pl.datetime(2026, 3, 1, time_zone="UTC"))
        else:
            values[column.name] = [] if column.dtype == frames.LABELS else None
    made = pl.DataFrame({"n": [1]}).select(
        (value if isinstance(value, pl.Expr) else pl.lit(value)).cast(frame.schema[name]).alias(name)
        for name, value in values.items()
    )
    return contract.check(made)


@pytest.mark.parametrize("name", PROMISED)
def test_the_promised_keys_are_in_the_document(name):
    contract, _ = documents.KEYS[name]
    row = json.loads(documents.document(name, one_row(contract)))[name][0]
    assert set(PROMISED[name].split()) <= set(row)


@pytest.mark.parametrize("name", documents.KEYS)
def test_a_document_obeys_its_own_schema_even_where_everything_is_missing(name):
    contract, _ = documents.KEYS[name]
    schema = json.loads(documents.schema(name))
    for frame in (contract.empty(), one_row(contract)):
        document = json.loads(documents.document(name, frame))
        jsonschema.validate(document, schema)
        assert len(document[name]) == frame.height


@pytest.mark.parametrize("name", documents.KEYS)
def test_the_schema_refuses_a_document_with_a_key_too_many_or_a_wrong_type(name):
    contract, _ = documents.KEYS[name]
    schema = json.loads(documents.schema(name))
    row = json.loads(documents.document(name, one_row(contract)))[name][0]
    for wrong, why in ((row | {"surprise": 1}, "surprise"), (row | {"person": 7}, "7 is not of type 'string'")):
        with pytest.raises(jsonschema.ValidationError, match=why):
            jsonschema.validate({"gramrise": "0", name: [wrong]}, schema)


def test_times_are_written_in_utc_with_a_z():
    text = documents.document("readings", one_row(frames.READINGS))
    assert json.loads(text)["readings"][0]["time_utc"] == "2026-03-01T00:00:00Z"


def test_an_unknown_document_is_refused_with_the_names_that_exist():
    with pytest.raises(WrongUse, match="readings, lows"):
        documents.schema("meals")
