"""Some hundred damaged files of every kind: only told troubles, every row told, every value one of the file.

The long run is `python tests/benchmark/faults.py --files N`.
"""

import os
from pathlib import Path

import pytest
from support import file_mutator
from support.file_mutator import Sample, damaged, read_and_judge, run, samples, table

pytestmark = pytest.mark.slow

FILES = int(os.environ.get("GRAMRISE_DAMAGED_FILES", "350"))


def test_damaged_files_cost_what_was_damaged(request):
    found = run(FILES, seed=int(os.environ.get("GRAMRISE_SEED", "13")))
    assert sum(one.tried for one in found.values()) == FILES
    assert sum(one.read for one in found.values()) > FILES / 3
    assert sum(one.values for one in found.values()) > 5 * FILES
    wrong = [sentence for one in found.values() for sentence in one.wrong]
    assert wrong == [], table(found)


def test_every_sample_is_read_where_it_is_not_damaged(tmp_path):
    kept = samples()
    assert len(kept) > 30
    for sample in kept:
        tally = file_mutator.Tally()
        data = sample.pack(sample.data) if sample.pack else sample.data
        read_and_judge(tally, tmp_path / Path(sample.name).name, data, sample.name)
        assert (sample.name, tally.wrong, tally.read + tally.waiting) == (sample.name, [], 1)


def test_the_judge_sees_a_value_that_is_not_in_the_file(tmp_path, monkeypatch):
    sample = next(one for one in samples() if one.name == "family_a/readings.csv")
    real = file_mutator.read_file

    def one_more(path, *args, **how):
        (batch,) = real(path, *args, **how)
        object.__setattr__(
            batch, "readings", batch.readings.with_columns(glucose_mg_dl=batch.readings["glucose_mg_dl"] + 1)
        )
        return (batch,)

    monkeypatch.setattr(file_mutator, "read_file", one_more)
    tally = file_mutator.Tally()
    read_and_judge(tally, tmp_path / "t.csv", sample.data, "t")
    assert len(tally.wrong) > 20


def test_the_judge_sees_a_row_that_is_told_nowhere(tmp_path, monkeypatch):
    sample = Sample("t.csv", b"time,glucose (mg/dL)\n" + b"".join(b"2026-03-13 10:%02d,100\n" % at for at in range(40)))
    real = file_mutator.read_file

    def one_less(path, *args, **how):
        (batch,) = real(path, *args, **how)
        object.__setattr__(batch, "rows_offered", batch.rows_offered - 1)
        return (batch,)

    monkeypatch.setattr(file_mutator, "read_file", one_less)
    tally = file_mutator.Tally()
    read_and_judge(tally, tmp_path / "t.csv", sample.data, "t")
    assert len(tally.wrong) == 1


def test_the_same_seed_damages_the_same_way():
    import random

    data = samples()[0].data
    assert damaged(data, random.Random(5)) == damaged(data, random.Random(5))
