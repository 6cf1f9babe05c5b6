"""Published examples of the standards and reference libraries: what we read is legal there, and says what we read.

The examples stay where they are (GRAMRISE_OUTSIDE_DATA); their sources and licences are named in standards/README.md.
"""

import json
import os
from datetime import UTC, date, datetime
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from fhir.resources.R4B import get_fhir_model_class
from jsonschema import Draft7Validator, FormatChecker
from referencing import Registry, Resource
from referencing.jsonschema import DRAFT4, DRAFT7

from gramrise.connectors.fhir import read_fhir
from gramrise.connectors.open_mhealth.bodies import read_body
from gramrise.connectors.standards import Hold, NotStrictJson, PassOver, StandardRefused, fhir_time, rfc3339_time
from gramrise.connectors.standards.instants import Instant
from gramrise.connectors.standards.strict_json import whole_object
from gramrise.domain.person import Dated, Person
from gramrise.intake import read_file

pytestmark = pytest.mark.outside
OUTSIDE = os.environ.get("GRAMRISE_OUTSIDE_DATA")
if not OUTSIDE or not (Path(OUTSIDE) / "standards").is_dir():
    pytest.skip("OUTSIDE DATA MISSING: set GRAMRISE_OUTSIDE_DATA to its folder", allow_module_level=True)
STANDARDS = Path(OUTSIDE) / "standards"
OWN = Path(__file__).parent / "standards"
PERSON = Person("P1", date(2010, 1, 1), Dated(((date(2000, 1, 1), ZoneInfo("Europe/Helsinki")),)))
NOW = datetime(2026, 6, 1, tzinfo=UTC)
# Of published files: how many readings, finger-sticks and weights each states, read off the files by hand.
STATES = {
    "cgm_ig/Bundle-cgmDataSubmissionBundle.json": (1, 0, 0),
    "cgm_ig/Observation-cgmSensorReadingMassPerVolumeExample.json": (1, 0, 0),
    "cgm_ig/Observation-cgmSensorReadingMolesPerVolumeExample.json": (1, 0, 0),
    "fi_base/body_weight_max.json": (0, 0, 1),
    "fi_base/body_weight_min.json": (0, 0, 1),
    "fi_base/diabetes_data_bundle_958.min.json": (637, 0, 0),
    "fi_base/diabetes_data_bundle_r4_en_first.json": (22, 0, 0),
    "hddt/blood_glucose_below_range.json": (0, 1, 0),
    "hddt/blood_glucose_bundle_0.json": (0, 2, 0),
    "hddt/blood_glucose_bundle_1.json": (0, 1, 0),
    "hddt/cgm_series_5min.json": (12, 0, 0),
    "hddt/cgm_series_full_with_L.json": (60, 0, 0),
    "hddt/cgm_series_incomplete.json": (20, 0, 0),
    "hddt/search_post_response_bundle.json": (24, 0, 0),
    "phd/compound-observation-glucose.json": (0, 1, 0),
    "phd/glucose-observation.json": (0, 1, 0),
    "us_core/weight.json": (0, 0, 1),
}


def published() -> list[str]:
    folder = STANDARDS / "fhir" / "published"
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*.json"))


@pytest.mark.parametrize("name", published())
def test_a_published_example_states_what_stands_in_it_and_nothing_else(name: str) -> None:
    text = (STANDARDS / "fhir" / "published" / name).read_text("utf-8")
    try:
        records, refused = read_fhir(text).records, ""
    except StandardRefused as told:
        records, refused = [], told.code
    assert refused == ("bulk_manifest" if name.startswith("bulk_data") else "")
    facts = [fact for record in records for fact in record.facts]
    kinds = [fact.kind.value for fact in facts]
    assert (kinds.count("reading"), kinds.count("finger"), kinds.count("weight")) == STATES.get(name, (0, 0, 0))


def test_a_published_page_that_is_no_json_is_refused_with_its_line() -> None:
    text = (STANDARDS / "fhir/published/hddt/search_get_response_MALFORMED.json.txt").read_text("utf-8")
    with pytest.raises(NotStrictJson) as refused:
        read_fhir(text)
    assert refused.value.row == 7


def test_the_53_hours_of_the_published_bundle_have_their_four_lows() -> None:
    (batch,) = read_file(STANDARDS / "fhir/published/fi_base/diabetes_data_bundle_958.min.json", PERSON, now_utc=NOW)
    low = batch.readings["glucose_mg_dl"] < 70
    starts = batch.readings.filter(low & ~low.shift(1, fill_value=False))["at_utc"]
    assert [f"{at.astimezone(ZoneInfo('Europe/Helsinki')):%H:%M:%S}" for at in starts] == [
        "00:19:34", "01:19:33", "20:09:31", "22:49:30"]  # fmt: skip
    assert int(low.sum()) == 11 + 4 + 5 + 6
    assert batch.events.group_by("kind").len().sort("kind").rows() == [("food", 9), ("insulin", 21)]
    assert batch.rows_passed_over == 291


@pytest.mark.parametrize("name", sorted(str(path.relative_to(OWN)) for path in OWN.glob("fhir/own/*/*.json")))
def test_what_we_read_of_a_resource_the_reference_library_loads(name: str) -> None:
    text = (OWN / name).read_bytes().decode("utf-8-sig")
    try:
        states = any(record.facts for record in read_fhir(text).records)
    except (NotStrictJson, StandardRefused):
        states = False
    loaded = None
    if states:
        raw = json.loads(text)
        loaded = get_fhir_model_class(raw["resourceType"]).model_validate_json(text)
    assert (loaded is not None) == states


def _aliases(where: Path) -> dict[str, str]:
    """What a link such as NAME-1.x.json points to."""
    path = where / "ALIASES.json"
    told = json.loads(path.read_text("utf-8")) if path.exists() else {}
    told = told.get("links", {})
    return {name: file for name, file in told.items() if (where / str(file)).is_file()}


@cache
def schemas() -> Registry:
    """All schemas under the addresses by which they refer to each other; their own ids are sometimes wrong."""
    bases = {"omh": "https://w3id.org/openmhealth/schemas/omh/", "ieee": "https://w3id.org/ieee/ieee-1752-schema/"}
    found = []
    for folder, base in bases.items():
        where = STANDARDS / "open_mhealth" / "schema" / folder
        aliases = _aliases(where)
        files = {path.name: path.name for path in where.glob("*-*.json")} | aliases
        for name, file in files.items():
            schema = json.loads((where / str(file)).read_text("utf-8"))
            schema.pop("$id", None)
            draft = DRAFT4 if "draft-04" in schema.get("$schema", "") else DRAFT7
            found.append((base + name, Resource(contents=schema, specification=draft)))
    return Registry().with_resources(found)


def documents() -> list[tuple[str, str, str, str]]:
    folder = STANDARDS / "open_mhealth" / "samples" / "omh"
    return [(*path.parts[-4:-1], path.name) for path in sorted(folder.rglob("*.json"))
            if path.parts[-4] in {"blood-glucose", "body-weight"}]  # fmt: skip


@pytest.mark.parametrize(("schema", "version", "label", "name"), documents())
def test_a_published_body_is_read_only_where_its_schema_lets_it_pass(
    schema: str, version: str, label: str, name: str
) -> None:
    text = (STANDARDS / "open_mhealth" / "samples" / "omh" / schema / version / label / name).read_text("utf-8")
    address = f"https://w3id.org/openmhealth/schemas/omh/{schema}-{version}.json"
    check = Draft7Validator({"$ref": address}, registry=schemas(), format_checker=FormatChecker())
    assert check.is_valid(json.loads(text)) == (label == "shouldPass")
    body = whole_object(text)
    try:
        read_body(schema, version, body, [])
        verdict = "read"
    except Hold:
        verdict = "held"
    except PassOver:
        verdict = "passed over"
    if label == "shouldFail":
        assert verdict == "held"
    elif "descriptive_statistic" in body:
        assert verdict == "passed over"
    else:
        assert verdict == ("read" if "effective_time_frame" in body else "held")


# 29 February of no leap year, and a line feed behind the time: the cases' rule is to refuse both.
THE_PATTERN_ALONE_LETS_THROUGH = {"s25", "s47"}


def times() -> list[dict]:
    cases = json.loads((STANDARDS / "time" / "cases.json").read_text("utf-8"))["cases"]
    return [case for case in cases if "fhir_dateTime" in case]


@pytest.mark.parametrize("case", times(), ids=lambda case: case["id"])
def test_a_written_time_is_one_exactly_where_the_standards_say_so(case: dict) -> None:
    def told(parse) -> object:
        try:
            return parse(case["input"])
        except ValueError:
            return "refused"

    no_such = case["id"] in THE_PATTERN_ALONE_LETS_THROUGH
    in_fhir, in_rfc = told(fhir_time), told(rfc3339_time)
    assert (in_fhir != "refused") == (case["fhir_dateTime"] and not no_such)
    assert isinstance(in_fhir, Instant) == (case["fhir_instant"] and not no_such)
    assert (in_rfc != "refused") == (case["rfc3339"] and not no_such)
    for read in (in_fhir, in_rfc):
        if isinstance(read, Instant) and case.get("utc"):
            assert read.utc == datetime.fromisoformat(case["utc"])
