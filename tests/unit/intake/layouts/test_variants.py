"""One invented trace in about 120 spellings: read back to the truth, or waiting with the right question."""

import pytest
from support.variants import NOW, PERSON, Variant, decided, undecidable

from gramrise.intake import FileWaits, read_file

DECIDED, UNDECIDABLE = decided(), undecidable()


def _read(variant: Variant, tmp_path):
    path = tmp_path / f"table{variant.suffix}"
    path.write_bytes(variant.data())
    return read_file(path, PERSON, now_utc=NOW)


@pytest.mark.parametrize("variant", DECIDED, ids=[variant.name for variant in DECIDED])
def test_a_table_that_proves_itself_is_read_back_to_the_truth(variant, tmp_path):
    batches = _read(variant, tmp_path)
    assert len(batches) == 1
    read = batches[0].readings.select("at_utc", "glucose_mg_dl", "range").rows()
    expected = variant.expected()
    assert [row[0] for row in read] == [row[0] for row in expected]
    assert [row[1] for row in read] == pytest.approx([row[1] for row in expected])
    assert [row[2] for row in read] == [row[2] for row in expected]
    assert batches[0].questions == ()
    assert batches[0].rows_offered >= len(read)


@pytest.mark.parametrize("variant", UNDECIDABLE, ids=[variant.name for variant in UNDECIDABLE])
def test_a_table_with_two_readings_waits_with_the_right_question(variant, tmp_path):
    with pytest.raises(FileWaits) as waits:
        _read(variant, tmp_path)
    assert waits.value.code == variant.waits
    assert "To mend" in str(waits.value)


def test_the_matrix_is_as_wide_as_promised():
    names = [variant.name for variant in (*DECIDED, *UNDECIDABLE)]
    assert len(set(names)) == len(names) >= 80
    assert len(UNDECIDABLE) >= 10
