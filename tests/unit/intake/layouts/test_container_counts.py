"""A table that counts what a container held and what is left in it drafts no layout of readings."""

import pytest
from support.variants import NOW, PERSON

from gramrise.intake import FileWaits, read_file, recognise

HEADERS = [
    "container,source,from,to,filled,left",
    "Dose,Quelle,von,bis,gefüllt,übrig",
    "boîte,source,de,à,remplis,restants",
    "caja,fuente,desde,hasta,llenos,quedan",
]


@pytest.mark.parametrize("header", HEADERS)
def test_a_table_of_counts_waits_and_says_what_it_is(tmp_path, header):
    file = tmp_path / "counts.csv"
    rows = "\n".join(f"tin,candy,2026-03-{day} 07:30,2026-03-{day} 16:10,12,{day % 9}" for day in range(10, 14))
    file.write_text(f"{header}\n{rows}\n", "utf-8")
    with pytest.raises(FileWaits, match="count what is in a container"):
        read_file(file, PERSON, now_utc=NOW)
    seen = recognise(file, PERSON, now_utc=NOW)
    assert not seen.certain
    assert 'kind = "readings"' not in seen.text
