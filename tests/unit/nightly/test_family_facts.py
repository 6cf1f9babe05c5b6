"""`check` names what a family has not said yet, and what of theirs waits."""

from datetime import timedelta

from support.nightly_home import START, drop, readings_csv
from typer.testing import CliRunner

from gramrise.cli.main import app
from gramrise.nightly import check_health, run_night, view_of_week

NOW = START + timedelta(days=1)


def typed(home, *words):
    return CliRunner().invoke(app, ["--home", str(home), *words])


def told(home, *words):
    return " ".join(typed(home, *words).output.split())


def test_a_new_home_is_told_what_is_missing_for_cards_and_reports(tmp_path):
    typed(tmp_path, "person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin")
    said = told(tmp_path, "check")
    for code in ("plan_missing", "contact_missing", "name_missing", "weight_missing"):
        assert code in said
    assert "All well" not in said


def test_a_doubted_weight_and_an_open_question_are_named_per_person(tmp_path):
    for name in ("mia", "ben"):
        typed(tmp_path, "person", "add", name, "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31.5")
    typed(tmp_path, "person", "weigh", "mia", "69")
    typed(tmp_path, "give", "3", "--person", "ben")
    done = typed(tmp_path, "check")
    said = " ".join(done.output.split())
    assert done.exit_code == 1
    assert "weight_doubted: mia: a weight is in doubt (69.0 kg)" in said
    assert "questions_open: ben: 1 question waits" in said
    assert "weight_doubted: ben" not in said


def test_what_is_missing_is_no_trouble_of_the_service_and_goes_once_it_is_said(tmp_path):
    typed(tmp_path, "person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31.5")
    (tmp_path / "gramrise.toml").write_text('[nightly.recipients]\nmia = [{ address = "a@example.org" }]\n')
    assert typed(tmp_path, "check").exit_code == 0
    typed(tmp_path, "person", "set", "mia", "--name", "Mia")
    plan = ("--standard-grams", "9", "--below-54-grams", "12", "--contact", "Mama 0170 1")
    typed(tmp_path, "person", "plan", "mia", *plan)
    said = told(tmp_path, "check")
    assert "Still missing" not in said
    assert "All well." in said


def test_contacts_without_any_number_are_nobody_to_call(tmp_path):
    typed(tmp_path, "person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31.5")
    typed(tmp_path, "person", "plan", "mia", "--contact", "Mama")
    assert "contact_missing: mia: no contact has a number to call" in told(tmp_path, "check")
    typed(tmp_path, "person", "plan", "mia", "--contact", "Mama", "--contact", "Papa 0170 1")
    assert "contact_missing" not in told(tmp_path, "check")


def test_a_german_family_reads_german(tmp_path):
    words = ("--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31.5", "--language", "de")
    typed(tmp_path, "person", "add", "mia", *words)
    assert "Kein Behandlungsplan ist eingetragen" in told(tmp_path, "check")


def test_a_note_of_which_no_line_could_be_read_is_held_with_words_and_check_names_it(store, home):
    drop(home, "mia", "night.txt", "2026-03-01\n02:10 noch drin\n03:10 3 IE\n")
    night = run_night(store, home, NOW)
    assert night.files_held == 1
    why = (home / "inbox" / "mia" / "held" / "night.txt.why.txt").read_text("utf-8")
    assert "nothing of it could be read (2 lines set aside)" in why
    assert "this is insulin" in why
    assert store.imports("mia") == []
    assert "inbox_held" in [each.code for each in check_health(home, NOW).findings]


def test_lines_set_aside_beside_good_ones_are_named_for_a_week(store, home):
    rows = readings_csv(START, 20) + "what is this,x\n"
    drop(home, "mia", "march.csv", rows)
    run_night(store, home, NOW)
    assert [entry["quarantined"] for entry in store.imports("mia")] == [1]
    (finding,) = [each for each in check_health(home, NOW).findings if each.code == "lines_set_aside"]
    assert "1 line of march.csv" in finding.sentence
    later = check_health(home, NOW + timedelta(days=8)).findings
    assert "lines_set_aside" not in [each.code for each in later]


def test_the_letter_of_the_week_names_lines_set_aside_in_it_and_that_of_the_next_week_does_not(store, home):
    """A line that went to done/ with its note was told on one night's screen only, and the letter said: none."""
    drop(home, "mia", "march.csv", readings_csv(START, 20) + "what is this,x\n")
    run_night(store, home, NOW)
    end = NOW.date() + timedelta(days=1)
    letter = view_of_week(store, "mia", end, NOW + timedelta(days=1), home)
    assert [(each.file, each.lines) for each in letter.set_aside] == [("march.csv", 1)]
    next_week = view_of_week(store, "mia", end + timedelta(days=7), NOW + timedelta(days=8), home)
    assert next_week.set_aside == ()


def test_a_question_about_a_file_of_the_inbox_is_named(store, home):
    drop(home, "mia", "night.txt", "2026-03-01\n02:10 3\n")
    run_night(store, home, NOW)
    assert "questions_open" in [each.code for each in check_health(home, NOW).findings]
