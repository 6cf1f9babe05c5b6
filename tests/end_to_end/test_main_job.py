"""The main job on the sample families, through the commands a person types."""

import json
import shutil
from pathlib import Path

import jsonschema
import pytest
from typer.testing import CliRunner

from gramrise.cli.demonstration import read_families
from gramrise.cli.main import app
from gramrise.nightly import run_person
from gramrise.store import Store

SAMPLES = Path(__file__).resolve().parents[2] / "sample_exports"


def typed(*words, home):
    return CliRunner().invoke(app, ["--home", str(home), *map(str, words)])


def families_in(home):
    families = read_families(SAMPLES)
    with Store.open(home) as store:
        for family in families:
            store.save_person(family.person)
    return families


@pytest.fixture(scope="module")
def walked(tmp_path_factory):
    """Home of the demo, and what it printed."""
    folder = tmp_path_factory.mktemp("demo") / "made"
    told = CliRunner().invoke(app, ["demo", str(folder)], catch_exceptions=False)
    assert told.exit_code == 0, told.output
    return folder, told.output


@pytest.mark.slow
def test_the_demo_shows_treated_lows_the_number_per_band_beside_the_truth_and_the_written_report(walked):
    folder, printed = walked
    assert "treated" in printed
    assert "daytime 07:00-22:00" in printed
    assert "overnight 22:00-07:00" in printed
    assert "truth" in printed
    for person in ("robin", "kim", "noor"):
        pdfs = list((folder / "reports").glob(f"{person}-*.pdf"))
        assert len(pdfs) == 1
        assert pdfs[0].read_bytes().startswith(b"%PDF")
        assert pdfs[0].name in printed.replace("\n", "")


@pytest.mark.slow
def test_the_demo_fits_a_terminal_of_80_columns(walked):
    too_long = [line for line in walked[1].splitlines() if len(line) > 80 and " " in line]
    assert too_long == []


@pytest.mark.slow
def test_the_true_numbers_of_all_families_lie_inside_their_intervals(walked):
    folder, _ = walked
    truth = json.loads((SAMPLES / "truth.json").read_text("utf-8"))["persons"]
    assert len(truth) == 3
    for person, bands in truth.items():
        found = json.loads(typed("factors", "--person", person, "--json", home=folder / "home").stdout)["factors"]
        assert {row["band"] for row in found} == set(bands)
        for row in found:
            true = bands[row["band"]]["true_factor_mg_dl_per_g"]
            assert row["p05_factor_mg_dl_per_g"] <= true <= row["p95_factor_mg_dl_per_g"], (person, row["band"])


@pytest.mark.slow
def test_the_course_of_the_rise_is_told_for_every_form_with_its_doubt_and_the_caution(walked):
    home = walked[0] / "home"
    told = typed("factors", "--person", "robin", "--course", home=home).stdout
    assert [form for form in ("gel", "liquid", "tablet") if form in told] == ["gel", "liquid", "tablet"]
    assert "not an order" in told
    assert max(len(line) for line in told.splitlines()) <= 80
    rows = json.loads(typed("factors", "--person", "robin", "--course", "--json", home=home).stdout)["courses"]
    jsonschema.validate({"gramrise": "0", "courses": rows}, json.loads(typed("schema", "courses", home=home).stdout))
    for row in rows:
        assert row["p05_minutes_to_half"] < row["minutes_to_half"] < row["p95_minutes_to_half"] < row["minutes_to_peak"]
        assert 0.0 < row["p05_share_left_90"] < row["share_left_90"] < row["p95_share_left_90"] < 1.0


def test_importing_every_sample_twice_changes_nothing(tmp_path):
    home = tmp_path / "home"
    families = families_in(home)
    kept = []
    for _ in range(2):
        for family in families:
            typed("import", *family.files, "--person", family.person.person_id, home=home)
        with Store.open(home) as store:
            kept.append([store.inputs(family.person.person_id) for family in families])
            assert all(not store.corrections(family.person.person_id) for family in families)
    for before, after in zip(*kept, strict=True):
        for frame in ("readings", "fingers", "doses", "events"):
            assert getattr(before, frame).equals(getattr(after, frame))
        assert before.readings.height > 10_000
        assert before.doses.height > 50


def test_a_file_with_a_broken_row_lands_its_good_rows_names_the_bad_one_and_exits_1(tmp_path):
    home = tmp_path / "home"
    families_in(home)
    lines = (SAMPLES / "family_a" / "glucose_given.csv").read_text("utf-8").splitlines()[:21]
    lines[10] = "2025-09-31T21:06-05:00,candy,4 pieces"  # a day that does not exist, on line 11
    broken = tmp_path / "given.csv"
    broken.write_text("\n".join(lines) + "\n", "utf-8")
    done = typed("import", broken, "--person", "robin", home=home)
    assert done.exit_code == 1
    told = " ".join(done.stderr.split())
    assert "given.csv row 11" in told
    assert "2025-09-31" in told
    assert "To mend:" in told
    with Store.open(home) as store:
        assert store.inputs("robin").doses.height == 19
        assert [row.trouble.row for _, row in store.quarantine("robin")] == [11]


def test_findings_do_not_depend_on_the_order_in_which_files_came(tmp_path):
    family = read_families(SAMPLES)[0]
    found = []
    for name, order in (("a", family.files), ("b", tuple(reversed(family.files)))):
        home = tmp_path / name
        families_in(home)
        for file in order:
            assert typed("import", file, "--person", family.person.person_id, home=home).exit_code in (0, 1)
        with Store.open(home) as store:
            last = store.inputs(family.person.person_id).readings["at_utc"].max()
            found.append(run_person(store, family.person.person_id, last))
    assert found[0].lows.equals(found[1].lows)
    assert found[0].factors.equals(found[1].factors)


def test_the_demo_refuses_to_clear_a_folder_it_did_not_make(tmp_path):
    (tmp_path / "letter.txt").write_text("keep me", "utf-8")
    done = CliRunner().invoke(app, ["demo", str(tmp_path)])
    assert done.exit_code != 0
    assert (tmp_path / "letter.txt").read_text("utf-8") == "keep me"


def test_the_samples_are_small_enough_to_ship():
    assert sum(file.stat().st_size for file in SAMPLES.rglob("*") if file.is_file()) < 2_000_000
    assert shutil.which("git") is None or not list(SAMPLES.rglob("*.pdf"))
