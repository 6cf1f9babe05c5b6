"""The review of everybody: one person's failure is named and stops nobody; the clinic reads in one language."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from support.report_people import person

from gramrise.domain.problems import CouldNotRun
from gramrise.nightly import clinic_language, current_findings, reviews, write_files, write_review
from gramrise.store import Store

NOW = datetime(2026, 11, 22, 14, tzinfo=UTC)


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "home") as opened:
        for name in ("ada", "ben", "cleo"):
            opened.save_person(person(person_id=name, name=name.title()))
        yield opened


def test_one_person_who_cannot_be_found_is_named_and_the_others_have_their_pages(store, tmp_path, monkeypatch):
    def failing(store, person_id, *rest):
        if person_id == "ben":
            raise CouldNotRun("the log keeps changing", "let the other import end", "inputs_changing")
        return current_findings(store, person_id, *rest)

    monkeypatch.setattr(reviews, "current_findings", failing)
    first, panel = write_review(store, store.persons(), NOW, None, tmp_path / "out")
    assert first.name == "index.html"
    assert panel.could_not == ("ben",)
    assert [line.person_id for line in panel.lines] == ["ada", "cleo"]
    assert not (tmp_path / "out" / "person.ben.html").exists()
    assert "No findings could be made for: ben." in first.read_text("utf-8")


def test_a_second_review_replaces_the_first_and_can_be_read_by_its_owner_only(store, tmp_path):
    for _ in range(2):
        write_review(store, store.persons(), NOW, None, tmp_path / "out")
    made = list((tmp_path / "out").iterdir())
    assert len(made) == 2 + 3 * 3
    assert {path.stat().st_mode & 0o077 for path in made} == {0}


@pytest.mark.parametrize(
    ("spoken", "read"), [(("de", "de"), "de"), (("de", "en"), "en"), (("en",), "en"), (("de", "fr"), "en")]
)
def test_a_clinic_reads_all_families_in_one_language(spoken, read):
    people = [replace(person(), person_id=f"p{at}", language=language) for at, language in enumerate(spoken)]
    assert clinic_language(people) == read


def test_bytes_and_text_are_written_as_they_are(tmp_path):
    written = write_files(tmp_path / "new", [("a.txt", "Größe"), ("b.pdf", b"%PDF")])
    assert [path.read_bytes() for path in written] == ["Größe".encode(), b"%PDF"]
