"""Every labelled example of our own: the readers give what its label says."""

import json
from datetime import datetime
from pathlib import Path

import pytest

from gramrise.connectors.fhir import read_fhir
from gramrise.connectors.open_mhealth import read_open_mhealth
from gramrise.connectors.standards import Kind, NotStrictJson, Record, StandardRefused

FOLDER = Path(__file__).parent / "standards"
LABELS = json.loads((FOLDER / "labels.json").read_text("utf-8"))
# The label refuses the byte order mark for readers of text; files are read as bytes, where it is accepted.
WITH_MARK = "fhir/own/invalid/14_utf8_bom.json"
HELD_FLAGS = {
    "date_only": {"no_time_of_day"},
    "no_time": {"no_time", "no_time_of_day"},
    "no_zone": {"no_zone"},
    "no_unit": {"no_unit"},
    "unit_code_mismatch": {"unit_code_mismatch"},
    "sample_period_implausible": {"sample_period_implausible"},
    "unknown_modifier": {"unknown_modifier"},
    "body_does_not_match_schema_id": {"body_not_of_its_schema"},
}


def records_of(name: str) -> list[Record]:
    text = (FOLDER / name).read_bytes().decode("utf-8-sig")
    return read_fhir(text).records if name.startswith("fhir/") else read_open_mhealth(text)


def with_meaning() -> list[str]:
    return [name for name, label in LABELS.items() if label.get("meaning") is not None]


def facts_of(records: list[Record]) -> list:
    return [fact for record in records for fact in record.facts]


def at(text: str) -> datetime:
    return datetime.fromisoformat(text)


def test_there_are_all_examples() -> None:
    files = {str(path.relative_to(FOLDER)) for path in FOLDER.rglob("*.*json") if path.name != "labels.json"}
    assert files == set(LABELS)
    assert len(LABELS) == 107


@pytest.mark.parametrize("name", [name for name, label in LABELS.items() if label.get("expect") == "reject"])
def test_what_is_labelled_as_broken_gives_nothing(name: str) -> None:
    try:
        records = records_of(name)
    except NotStrictJson:
        records = []
    assert len(facts_of(records)) == (1 if name == WITH_MARK else 0)
    assert all(record.held for record in records if not record.facts)


@pytest.mark.parametrize("name", with_meaning())
def test_an_example_means_what_its_label_says(name: str) -> None:
    meaning = LABELS[name]["meaning"]
    try:
        records = records_of(name)
    except StandardRefused as told:
        records = []
        meaning = meaning | {"refused": told.code}
    assert ("outputs" in meaning) == (meaning.get("refused") == "bulk_manifest")
    compared = [check(meaning, records) for check in CHECKS if check.__doc__ in meaning]
    assert len(compared) + ("outputs" in meaning) >= 1, f"nothing of {sorted(meaning)} is checked"


def _mg_dl(meaning: dict, records: list[Record]) -> None:
    """mg_dl"""
    (fact,) = facts_of(records)
    assert fact.amount == pytest.approx(meaning["mg_dl"], abs=0.01)
    blood = meaning.get("series") == "blood" or "blood" in str(meaning.get("use"))
    unknown = "specimen_unknown" in records[0].flags
    assert fact.kind is (Kind.FINGER if blood else Kind.GLUCOSE if unknown else Kind.READING)
    assert fact.range == {"left": "below", "right": "above"}.get(meaning.get("censored"), "in")


def _utc(meaning: dict, records: list[Record]) -> None:
    """utc"""
    told = meaning["utc"] if isinstance(meaning["utc"], list) else [meaning["utc"]]
    assert [fact.at.utc for fact in facts_of(records)] == [at(text) for text in told]
    if "local_offset" in meaning:
        assert facts_of(records)[0].at.offset_minutes == 180


def _use(meaning: dict, records: list[Record]) -> None:
    """use"""
    use = meaning["use"]
    facts = facts_of(records)
    if use is False:
        assert not facts
    elif use == "as censored without a limit":
        assert [(fact.amount, fact.range.value) for fact in facts] == [(None, "below")]
    elif use == "only for p2":
        assert {record.whose for record in records} == {"Patient/p2"}
    elif use == "event only":
        assert [fact.kind for fact in facts] == [Kind.NOTE]
    else:
        assert len(facts) >= 1


def _flag(meaning: dict, records: list[Record]) -> None:
    """flag"""
    flag = meaning["flag"]
    held = {one.code for record in records for one in record.held}
    if flag in HELD_FLAGS:
        assert held & HELD_FLAGS[flag]
    elif flag == "summary":
        assert "summary" in records[0].passed
    elif flag == "implausible":  # seen by the rows, which know what a body weighs
        assert facts_of(records)[0].amount < 5
    else:
        assert flag in records[0].flags


def _samples(meaning: dict, records: list[Record]) -> None:
    """samples"""
    scale = 18.0156 if meaning.get("unit") == "mmol/L" else 1.0
    sides = {"left": "below", "right": "above"}
    told = [
        (at(each[0]), each[1] * scale, sides.get(each[2] if len(each) > 2 else None, "in"))
        for each in meaning["samples"]
        if each[1] is not None
    ]
    got = [(fact.at.utc, fact.amount, fact.range.value) for fact in facts_of(records)]
    assert [(one[0], one[2]) for one in got] == [(one[0], one[2]) for one in told]
    assert [one[1] for one in got] == pytest.approx([one[1] for one in told])
    assert records[0].gaps == len(meaning["samples"]) - len(told)


def _grams(meaning: dict, records: list[Record]) -> None:
    """glucose_g"""
    doses = [fact for fact in facts_of(records) if fact.kind is Kind.DOSE]
    assert [fact.unit for fact in doses] == ["g"] * len(doses)
    assert sum(fact.amount for fact in doses) == pytest.approx(meaning["glucose_g"], abs=0.001)
    if "duration_min" in meaning:
        assert (doses[0].until_utc - doses[0].at.utc).total_seconds() == 60 * meaning["duration_min"]


def _insulin(meaning: dict, records: list[Record]) -> None:
    """insulin_u"""
    told = meaning["insulin_u"] if isinstance(meaning["insulin_u"], list) else [meaning["insulin_u"]]
    given = [fact for fact in facts_of(records) if fact.kind in {Kind.INSULIN, Kind.BASAL}]
    assert [fact.amount for fact in given] == pytest.approx(told)


def _carbohydrate(meaning: dict, records: list[Record]) -> None:
    """carb_g"""
    assert [(fact.kind, fact.amount) for fact in facts_of(records)] == [(Kind.FOOD, meaning["carb_g"])]


def _weight(meaning: dict, records: list[Record]) -> None:
    """kg"""
    (fact,) = facts_of(records)
    assert fact.kind is Kind.WEIGHT
    assert fact.amount == pytest.approx(meaning["kg"], abs=0.001)


def _minutes(meaning: dict, records: list[Record]) -> None:
    """minutes"""
    (fact,) = facts_of(records)
    assert fact.kind is Kind.ACTIVITY
    assert (fact.until_utc - fact.at.utc).total_seconds() == 60 * meaning["minutes"]


def _readings(meaning: dict, records: list[Record]) -> None:
    """readings"""
    facts = facts_of(records)
    assert all(fact.kind is Kind.READING for fact in facts)
    assert len({fact.at.utc for fact in facts}) == len(facts) == meaning["readings"]
    assert [record.row for record in records if record.held] == meaning.get("bad_lines", [])


def _matches(meaning: dict, records: list[Record]) -> None:
    """matches"""
    assert len(facts_of(records)) == meaning["matches"]


def _deletes(meaning: dict, records: list[Record]) -> None:
    """deletes"""
    assert [record.identity for record in records if record.withdrawn] == meaning["deletes"]


def _delete(meaning: dict, records: list[Record]) -> None:
    """delete"""
    assert [record.withdrawn for record in records] == [True]


CHECKS = (_mg_dl, _utc, _use, _flag, _samples, _grams, _insulin, _carbohydrate, _weight, _minutes, _readings, _matches,
          _deletes, _delete)  # fmt: skip


def test_two_pages_of_a_search_overlap_and_hold_five_readings_together() -> None:
    pages = [
        records_of(f"fhir/own/bundles/{name}") for name in ("searchset_page1.json", "searchset_page2_overlaps.json")
    ]
    assert len({fact.at.utc for records in pages for fact in facts_of(records)}) == 5
    text = (FOLDER / "fhir/own/bundles/searchset_page1.json").read_text("utf-8")
    assert "one page of 5" in read_fhir(text).remarks[0]


def test_an_amended_version_replaces_the_one_it_amends_whichever_stands_first() -> None:
    texts = [
        (FOLDER / f"fhir/own/readings/{name}.json").read_text("utf-8") for name in ("13_preliminary", "14_amended")
    ]
    for order in (texts, texts[::-1]):
        facts = facts_of(read_fhir("[" + ",".join(order) + "]").records)
        assert [fact.amount for fact in facts] == [94.0]
