"""The clinic review live: one panel, the pages behind it, the sign-off; and who sees none of it."""

import re
from datetime import timedelta

import pytest
from support.nightly_home import START, child, doses_csv, readings_csv, settled
from support.page_phone import NOW, again, phone, said, send

from gramrise.web.guard.secrets import hashed

PAGES = ("/panel", "/person", "/pairings", "/visit", "/sign")


def two_children_one_with_a_low(store):
    settled(store.home)
    for person_id in ("mia", "tom"):
        store.save_person(child(person_id))
    dad = phone(store, "mia")
    log = ("log.csv", doses_csv(START + timedelta(hours=10)), "text/csv")
    files = [("file", ("trace.csv", readings_csv(START, 13, 10), "text/csv")), ("file", log)]
    assert send(dad, "/0/upload", files=files).status_code == 200


@pytest.fixture
def store(store_like):
    return store_like(two_children_one_with_a_low)


@pytest.fixture
def nurse(store):
    return phone(store, "mia", "tom", role="clinic", label="nurse")


def sign(client, **fields):
    return send(client, "/0/sign", page="/0/sign", **({"verdict": "accepted", "by": "Dr. Vogel"} | fields))


def test_the_first_address_of_a_clinics_device_is_the_panel_and_its_links_open(nurse):
    assert nurse.get("/").headers["location"] == "/0/panel"
    panel = nurse.get("/0/panel").text
    links = sorted(set(re.findall(r'href="(/\d+/[a-z]+)', panel)))
    assert "/0/person" in links
    assert "/1/person" in links
    assert {nurse.get(link).status_code for link in links} == {200}


@pytest.mark.parametrize("path", PAGES)
def test_every_page_of_the_review_opens_and_leads_to_the_others(nurse, path):
    page = nurse.get(f"/0{path}").text
    assert "mia" in page
    links = set(re.findall(r'href="(/\d+/[a-z]+)', page))
    assert {nurse.get(link).status_code for link in links} == {200}
    assert path == "/panel" or "/0/sign" in links or path == "/sign"


def test_pages_of_the_review_run_nothing_and_load_their_look_from_here(nurse):
    answer = nurse.get("/0/person")
    assert "script-src" not in answer.headers["content-security-policy"]
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert 'href="/review.css"' in answer.text
    assert nurse.get("/review.css").headers["content-type"].startswith("text/css")


def test_a_number_is_signed_shown_with_who_and_until_when_and_taken_back(store, nurse):
    told = said(nurse, sign(nurse, role="paediatrician", told="both parents"))
    assert "Signed as no. 1" in told
    assert "No. 1, accepted by Dr. Vogel, paediatrician: the number of" in told
    kept = store.references_of("mia")[0]
    assert (kept.signed_by, kept.accepted, kept.told, kept.withdrawn_on) == ("Dr. Vogel", True, "both parents", None)
    taken_back = said(nurse, send(nurse, "/0/sign/withdrawn", page="/0/sign", number="1"))
    assert "Holds no longer: taken back" in taken_back
    entries = [(entry.who, entry.role, entry.did) for entry in store.trail.entries("mia")]
    assert ("device 2", "clinic", "signed") in entries


@pytest.mark.parametrize(
    "fields", [{"by": " "}, {"verdict": ""}, {"as_of": "2030-01-01"}, {"valid_until": "2020-01-01"}]
)
def test_half_a_sign_off_is_refused_and_nothing_is_signed(store, nurse, fields):
    answer = sign(nurse, **fields)
    assert answer.status_code == 422
    assert "To mend" in answer.text
    assert store.references_of("mia") == []


def test_a_person_without_a_number_cannot_be_signed(store, nurse):
    answer = send(nurse, "/1/sign", page="/1/sign", verdict="accepted", by="Dr. Vogel")
    assert answer.status_code == 422
    assert store.references_of("tom") == []


@pytest.mark.parametrize("role", ["parent", "helper"])
def test_nothing_of_the_review_opens_for_a_family(store, role):
    other = phone(store, "mia", role=role, label="Gran")
    assert {other.get(f"/0{path}").status_code for path in PAGES} == {403}
    assert sign_status(other) == 403
    assert store.references_of("mia") == []


def sign_status(client):
    return send(client, "/0/sign", verdict="accepted", by="Dr. Vogel").status_code


def test_the_panel_of_a_clinic_names_nobody_else(store):
    one = phone(store, "mia", role="clinic", label="other clinic")
    panel = one.get("/0/panel").text
    assert "mia" in panel
    assert "tom" not in panel
    assert one.get("/1/person").status_code == 404


def test_a_device_of_both_roles_shows_on_the_panel_only_whom_it_sees_as_clinic(store, nurse):
    store.devices.invite(["mia"], "parent", "nurse at home", hashed("own"), NOW + timedelta(hours=1))
    assert nurse.post("/in/own").status_code == 303
    assert nurse.get("/").status_code == 200
    pages = sorted(re.findall(r'href="(/\d+/[a-z]*)"', nurse.get("/").text))
    panel = next(nurse.get(page).text for page in pages if page.endswith("/panel"))
    assert "tom" in panel
    assert "mia" not in panel
    assert {nurse.get(page).status_code for page in pages} == {200}


def test_a_clinics_device_that_was_not_read_on_for_half_a_day_must_be_let_in_again(store, nurse):
    nurse.get("/0/panel")
    late = again(store, nurse, NOW + timedelta(hours=13))
    assert {late.get(f"/0{path}").status_code for path in PAGES} == {403}
