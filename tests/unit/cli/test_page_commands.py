"""gramrise serve, let-in and devices: who is let in as what, and where the page may listen."""

import re
from dataclasses import replace

import pytest
from support.nightly_home import child, settled
from typer.testing import CliRunner

from gramrise.cli.main import app
from gramrise.report import in_language
from gramrise.store import Store


@pytest.fixture
def home(tmp_path):
    settled(tmp_path / "home")
    with Store.open(tmp_path / "home") as store:
        for person_id in ("mia", "tom", "ida"):
            store.save_person(child(person_id))
        store.panels.add("north", ["mia", "tom"])
    return tmp_path / "home"


def said(home, *words):
    return CliRunner().invoke(app, ["--home", str(home), *words])


def invited(home):
    with Store.open(home) as store:
        return [(each.person_id, each.role, each.label) for each in store.devices.listed()]


def test_a_clinics_device_is_let_in_for_everybody_in_a_panel(home):
    told = said(home, "let-in", "--as", "clinic", "--panel", "north", "--name", "nurse")
    assert told.exit_code == 0
    assert re.search(r"http://127.0.0.1:\d+/in/\S{40,}", told.output)
    assert invited(home) == [("mia", "clinic", "nurse"), ("tom", "clinic", "nurse")]


def test_a_parent_is_let_in_for_the_children_named(home):
    assert said(home, "let-in", "mia", "ida", "--as", "parent").exit_code == 0
    assert invited(home) == [("mia", "parent", "parent"), ("ida", "parent", "parent")]


@pytest.mark.parametrize(("role", "german"), [("helper", "Helfer"), ("parent", "Eltern"), ("clinic", "Klinik")])
def test_a_german_family_reads_in_german_as_what_a_device_is_let_in(home, role, german):
    with Store.open(home) as store:
        store.save_person(replace(store.person("mia"), language="de"))
    told = " ".join(said(home, "let-in", "mia", "--as", role).output.split())
    assert f"Er lässt ein Gerät ein, als {german}, einmal, innerhalb von" in told
    refused = in_language(str(said(home, "let-in", "mia", "--as", "owner").exception), "de")
    assert "„owner“ ist keine Rolle eines Geräts. Abhilfe: eines von: helper (Helfer), parent (Eltern)" in refused


@pytest.mark.parametrize(
    "words",
    [
        ("--as", "clinic"),
        ("--as", "clinic", "--panel", "south"),
        ("--as", "parent", "--panel", "north"),
        ("mia", "--as", "owner"),
        ("nobody", "--as", "parent"),
    ],
)
def test_nobody_is_let_in_by_half_a_command(home, words):
    told = said(home, "let-in", *words)
    assert told.exception is not None
    assert invited(home) == []


@pytest.mark.parametrize(
    "words",
    [
        ("--host", "0.0.0.0"),
        ("--certificate", "c.pem"),
        ("--private-certificate", "--certificate", "c.pem", "--key", "k.pem"),
    ],
)
def test_the_page_does_not_listen_in_the_open(home, words):
    told = said(home, "serve", *words)
    assert "To mend" in str(told.exception)
    assert not (home / "tls").exists()
