"""The weekly mail: any program opens it, nothing about health in the subject, pictures beside the words."""

import re
from email import message_from_bytes, policy
from functools import cache

import pytest
from support.report_people import NOW, everyone

from gramrise.report.weekly.pages.mail import compose

PEOPLE = everyone()
ID = "<5f2e7d.week@gramrise.example>"


@cache
def _mail(name="plain", **changed):
    given = {"message_id": ID, "date": NOW, "sender": "report@gramrise.example", **changed}
    return compose(PEOPLE[name].view(), "mother@example.org", **given)


@pytest.fixture(scope="module")
def arrived():
    """The mail as a program reads it after the way over the wire."""
    return message_from_bytes(bytes(_mail()), policy=policy.default)


def test_the_mail_is_text_and_html_with_its_pictures_and_the_pdf(arrived):
    kinds = [part.get_content_type() for part in arrived.walk()]
    assert kinds == [
        "multipart/mixed",
        "multipart/alternative",
        "text/plain",
        "multipart/related",
        "text/html",
        "image/png",
        "image/png",
        "application/pdf",
    ]


def test_every_picture_of_the_html_lies_beside_it_and_has_its_alternative_text(arrived):
    html = arrived.get_body(("html",)).get_content()
    shown = dict(re.findall(r'<img src="cid:([^"]+)" alt="([^"]+)"', html))
    held = {part["Content-ID"].strip("<>") for part in arrived.walk() if part.get_content_maintype() == "image"}
    assert shown.keys() == held
    assert len(held) == 2  # the week and the numbers
    assert all(len(alt) > 40 for alt in shown.values())
    assert "<svg" not in html


def test_the_pdf_is_attached_under_a_name_without_a_person_in_it(arrived):
    (pdf,) = [part for part in arrived.walk() if part.get_content_type() == "application/pdf"]
    assert pdf.get_filename() == "weekly-report-2026-11-22.pdf"
    assert pdf.get_content().startswith(b"%PDF-")


@pytest.mark.parametrize("name", PEOPLE)
def test_the_subject_tells_the_week_and_nothing_about_the_person(name):
    subject = str(_mail(name)["Subject"])
    assert re.fullmatch(r"(Weekly report, week to|Wochenbericht, Woche bis) \d+\.? \w+\.? \d{4}", subject)


def test_head_lines_say_who_when_and_which(arrived):
    assert (arrived["From"], arrived["To"], arrived["Message-ID"]) == (
        "report@gramrise.example",
        "mother@example.org",
        ID,
    )
    assert arrived["Date"].datetime == NOW


@pytest.mark.parametrize("name", PEOPLE)
def test_no_line_on_the_wire_is_over_78_characters_and_all_end_as_mail_lines_do(name):
    wire = bytes(_mail(name))
    assert max(len(line) for line in wire.split(b"\r\n")) <= 78
    assert b"\n" not in wire.replace(b"\r\n", b"")


def test_the_same_mail_composed_again_carries_the_same_message_id():
    again = _mail.__wrapped__()
    assert again["Message-ID"] == _mail()["Message-ID"] == ID


@pytest.mark.parametrize("field", ["message_id", "sender"])
def test_a_line_break_cannot_smuggle_in_another_recipient(field):
    with pytest.raises(ValueError, match=r"(?i)linefeed|newline|line"):
        _mail(**{field: "<a@b.example>\r\nBcc: everyone@example.org"})


def test_names_written_in_other_letters_arrive_whole():
    mail = message_from_bytes(bytes(_mail("right_to_left_name")), policy=policy.default)
    assert "مريم العبدالله" in mail.get_body(("plain",)).get_content()
    assert "مريم العبدالله" in mail.get_body(("html",)).get_content()
