"""The care plan typed in, shown, refused where it cannot be meant, and asked about where it contradicts itself."""

import re
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from support.card_people import SCHOOL
from typer.testing import CliRunner

from gramrise.cli.main import app
from gramrise.domain.problems import WrongUse
from gramrise.store import Store

TODAY = datetime.now(ZoneInfo("Europe/Berlin")).date()  # as the child's clock has it


def typed(home, *words):
    return CliRunner().invoke(app, ["--home", str(home), "person", *words])


@pytest.fixture
def home(tmp_path):
    words = (
        "--born",
        "2014-04-02",
        "--zone",
        "Europe/Berlin",
        "--weight-kg",
        "40",
        "--name",
        "Mia",
        "--language",
        "de",
    )
    typed(tmp_path, "add", "mia", *words)
    return tmp_path


def plan_of(home):
    with Store.open(home) as store:
        return store.person("mia").care_plan.latest()


def test_every_line_of_the_sheet_can_be_typed_in(home):
    told = typed(
        home, "plan", "mia",
        "--standard-grams", "9", "--below-54-grams", "10", "--least-grams", "4", "--most-grams", "12",
        "--look-again-minutes", "15", "--second-grams", "6", "--early", "--early-grams", "4", "--automated-grams", "6",
        "--contact", "Mum 1", "--contact", "Clinic 2", "--call-when", "drowsy", "--glucagon", "nasal 3 mg",
        "--glucagon-where", "red bag", "--vomiting", "come in", "--sport", "half", "--illness", "more looks",
        "--in-puberty", "--approved-by", "Dr. A", "--approved-role", "clinician", "--approved-on", str(TODAY),
        "--valid-until", str(TODAY + timedelta(days=60)), "--school-grams", "9", "--school-year-from", "2026-09-01",
        "--school-year-until", "2027-07-01", "--authorised-by-parent", "Ada", "--authorised-on", str(TODAY),
        "--staff", "Ms. R", "--staff", "Mr. O", "--kit", "red bag", "--kit-expires", "2027-05-01",
        "--school-glucagon-where", "office",
    )  # fmt: skip
    assert told.exit_code == 0, told.output
    plan = plan_of(home)
    assert (plan.standard_grams, plan.below_54_grams, plan.least_grams, plan.most_grams) == (9, 10, 4, 12)
    assert (plan.look_again_minutes, plan.second_grams, plan.early_grams, plan.automated_grams) == (15, 6, 4, 6)
    assert (plan.contacts, plan.glucagon, plan.sport) == (("Mum 1", "Clinic 2"), "nasal 3 mg", "half")
    assert (plan.approved_role, plan.valid_until) == ("clinician", TODAY + timedelta(days=60))
    assert (plan.school.staff, plan.school.kit_expires_on) == (("Ms. R", "Mr. O"), date(2027, 5, 1))
    assert (plan.glucagon_where, plan.school.glucagon_where) == ("red bag", "office")
    shown = typed(home, "plan", "mia").output
    assert "zweite Gabe, Gramm: 6\n" in shown
    assert "bei 70 bis 79 mg/dL fallend erlaubt: ja" in shown
    assert "Schule: Notfalltasche: red bag" in shown
    assert not re.search(r"_|: [A-Z][a-z]+\(", shown)


def test_the_school_part_is_added_to_and_not_replaced(home):
    typed(home, "plan", "mia", "--school-grams", "9")
    typed(home, "plan", "mia", "--kit", "red bag")
    assert (plan_of(home).school.grams, plan_of(home).school.kit) == (9, "red bag")


def test_a_plan_that_gives_less_below_54_is_written_down_and_asked_about_at_once_in_the_familys_language(home):
    told = typed(home, "plan", "mia", "--standard-grams", "8", "--below-54-grams", "4")
    assert told.exit_code == 1
    assert "gibt unter 54 mg/dL weniger" in " ".join(told.output.replace("\u00a0", " ").split())
    assert plan_of(home).below_54_grams == 4


def test_a_plan_cannot_hold_longer_than_six_months_or_end_before_it_was_approved(home):
    approved = ("--approved-on", "2026-01-10", "--below-54-grams", "10")
    for words, said in (
        (("--valid-until", "2026-07-11"), "holds until 2026-07-10"),
        (("--valid-until", "2026-04-11", "--in-puberty"), "holds until 2026-04-10"),
        (("--valid-until", "2026-01-09"), "before its approval"),
    ):
        told = typed(home, "plan", "mia", *approved, *words)
        assert isinstance(told.exception, WrongUse)
        assert said in str(told.exception)
    assert typed(home, "plan", "mia", *approved, "--valid-until", "2026-07-10").exit_code == 0


def test_a_new_approval_begins_a_new_time(home):
    typed(home, "plan", "mia", "--approved-on", "2026-01-10", "--valid-until", "2026-03-10")
    assert typed(home, "plan", "mia", "--approved-on", str(TODAY)).exit_code == 0
    assert plan_of(home).valid_until is None


@pytest.mark.parametrize("minutes", ["4", "31", "0"])
def test_a_second_look_after_a_minute_or_an_hour_is_a_slip(home, minutes):
    told = typed(home, "plan", "mia", "--look-again-minutes", minutes)
    assert isinstance(told.exception, WrongUse)
    assert "from 5 to 30" in str(told.exception)


def test_the_blank_sheet_is_written_as_a_pdf_and_changes_nothing(home):
    told = typed(home, "plan", "mia", "--sheet", "--out", str(home / "out"))
    assert told.exit_code == 0
    assert next((home / "out").glob("mia-*plan.pdf")).read_bytes().startswith(b"%PDF")
    assert plan_of(home) is None
    assert "--sheet" in typed(home, "plan", "mia").output


def test_each_version_of_the_plan_is_kept(home):
    from gramrise.store.schema import care_plans

    for grams in ("10", "11", "11", "12"):
        typed(home, "plan", "mia", "--below-54-grams", grams)
    with Store.open(home) as store, store.reading() as connection:
        versions = connection.execute(care_plans.select().order_by(care_plans.c.version)).all()
    assert [row.version for row in versions] == [1, 2, 3]
    assert plan_of(home).below_54_grams == 12


def test_a_plan_taken_back_leaves_its_version_and_the_one_before(home):
    from dataclasses import replace

    from gramrise.domain.care_plan import CarePlan
    from gramrise.domain.person import Dated

    one, other = CarePlan(below_54_grams=10, school=SCHOOL), CarePlan(below_54_grams=12)
    with Store.open(home) as store:
        mia = store.person("mia")
        both = Dated(((date(2026, 1, 1), one), (date(2026, 2, 1), other)))
        store.save_person(replace(mia, care_plan=both))
        assert store.person("mia").care_plan == both
        store.save_person(replace(mia, care_plan=Dated(((date(2026, 1, 1), one),))))
        assert store.person("mia").care_plan.latest() == one
        store.save_person(replace(mia, care_plan=both))
        assert store.person("mia").care_plan == both


def test_contacts_and_staff_that_a_new_list_leaves_out_are_named(home):
    typed(home, "plan", "mia", "--contact", "Mama 0170 11", "--contact", "Oma 0171 22", "--staff", "Frau R")
    told = typed(home, "plan", "mia", "--contact", "Papa 0172 33", "--contact", "Mama 0170 11", "--staff", "Herr O")
    said = " ".join(told.output.split())
    assert "Nicht mehr im Plan: Oma 0171 22." in said
    assert "Nicht mehr im Plan: Frau R." in said
    assert "Mama" not in said


def test_an_empty_contact_is_nobody_to_call(home):
    told = typed(home, "plan", "mia", "--contact", "", "--glucagon-where", "Tasche", "--staff", " ")
    assert told.exit_code == 0
    plan = plan_of(home)
    assert (plan.contacts, plan.school.staff, plan.glucagon_where) == ((), (), "Tasche")


@pytest.mark.parametrize("contact", ["Mama", "mama2@example.org"])
def test_a_contact_without_a_number_is_told_of_when_it_is_typed(home, contact):
    said = " ".join(typed(home, "plan", "mia", "--contact", contact).output.split())
    assert f"Bei „{contact}“ steht keine Nummer" in said
    assert plan_of(home).contacts == (contact,)
    assert "keine Nummer" not in " ".join(typed(home, "plan", "mia", "--contact", "Mama 0170 11").output.split())


def test_a_plan_dated_before_another_says_that_the_later_one_holds(home):
    typed(home, "plan", "mia", "--standard-grams", "9")
    told = typed(home, "plan", "mia", "--standard-grams", "8", "--from", str(TODAY - timedelta(days=20)))
    assert f"Was der Plan vom {TODAY:%d.%m.%Y} anders angibt" in " ".join(told.output.split())


def test_early_grams_over_the_standard_ones_are_asked_about(home):
    told = typed(home, "plan", "mia", "--standard-grams", "9", "--early", "--early-grams", "9.9")
    assert told.exit_code == 1
    assert "widersprechen sich" in " ".join(told.output.split())


def test_a_last_day_that_a_new_approval_drops_is_named(home):
    """It was thrown away in silence, and the card went on until a later, computed day."""
    typed(home, "plan", "mia", "--approved-by", "Dr. A", "--approved-on", "2026-01-05", "--valid-until", "2026-03-01")
    told = typed(home, "plan", "mia", "--approved-on", "2026-02-05")
    assert "Der letzte Tag von vorher, 01.03.2026, gehört nicht zu dieser Freigabe" in " ".join(told.output.split())
    kept = typed(home, "plan", "mia", "--approved-on", "2026-02-06", "--valid-until", "2026-03-02")
    assert "Der letzte Tag von vorher" not in kept.output
