"""Windows and thresholds come from config; a household may change them, and a slip is named."""

import os
from pathlib import Path

import pytest
from support.detect_cases import LATER, TREATED_LOW, child, doses, events, readings

from gramrise.config.settings import database_url, load, own_settings
from gramrise.detect import DetectSettings, detect
from gramrise.domain.findings import Inputs
from gramrise.domain.problems import WrongUse

SHIPPED = Path(__file__).parents[3] / "config" / "detect.toml"


def at_home(tmp_path: Path, lines: str) -> DetectSettings:
    (tmp_path / "gramrise.toml").write_text(f"[detect]\n{lines}\n", "utf-8")
    return load("detect", DetectSettings, tmp_path)


def test_a_clinic_may_call_two_hours_below_54_prolonged_as_the_older_text_does(tmp_path):
    older = at_home(tmp_path, "prolonged_mg_dl = 54.0")
    trace = Inputs(child(), readings=readings([80, *[60.0] * 30, 80, 80, 80]))
    assert detect(trace, LATER).lows["prolonged"].to_list() == [True]
    assert detect(trace, LATER, older).lows["prolonged"].to_list() == [False]


def test_hard_windows_can_be_had_by_changing_the_settings(tmp_path):
    wide = at_home(tmp_path, "with_food_minutes = 60.0")
    eaten = Inputs(child(), readings=readings(TREATED_LOW), doses=doses((60, 4)), events=events((105, "food", 20)))
    assert detect(eaten, LATER).screened["reasons"].to_list() == [["cut_short"]]
    assert detect(eaten, LATER, wide).screened["reasons"].to_list() == [["mixed_with_food"]]


def test_a_misspelt_key_is_named(tmp_path):
    with pytest.raises(WrongUse, match="low_mgdl"):
        at_home(tmp_path, "low_mgdl = 70.0")


def test_every_number_of_the_shipped_file_stands_under_a_word_about_its_source():
    explained, numbers = False, 0
    for line in SHIPPED.read_text("utf-8").splitlines():
        if line.startswith("#"):
            explained = True
        elif not line.strip():
            explained = False
        elif "=" in line:
            numbers += 1
            assert explained or "#" in line, line
    assert numbers > 20


@pytest.mark.parametrize("what", ["a dangling link", "a folder", "a pipe", "an endless device"])
def test_settings_that_are_no_file_are_told_and_never_passed_over_nor_opened(what, tmp_path):
    own = tmp_path / "gramrise.toml"
    {
        "a dangling link": lambda: own.symlink_to("nowhere.toml"),
        "a folder": own.mkdir,
        "a pipe": lambda: os.mkfifo(own),
        "an endless device": lambda: own.symlink_to("/dev/zero"),
    }[what]()
    for ask in (own_settings, database_url):
        with pytest.raises(WrongUse, match=r"gramrise\.toml is not a file"):
            ask(tmp_path)


def test_a_link_to_a_settings_file_that_is_there_is_read(tmp_path):
    (tmp_path / "kept.toml").write_text("[detect]\nlow_mg_dl = 65\n")
    (tmp_path / "gramrise.toml").symlink_to("kept.toml")
    assert own_settings(tmp_path) == {"detect": {"low_mg_dl": 65}}
