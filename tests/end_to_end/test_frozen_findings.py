"""The same inputs give the same findings as when they were written down, to one part in a million."""

import json

import pytest
from support.frozen_findings import FRAMES, FROZEN, frozen_findings

# Far below anything a person could see, above what another order of sums may move.
TOLERANCE = 1e-6


def agree(found, frozen) -> bool:
    if isinstance(frozen, float) and isinstance(found, float | int):
        return found == pytest.approx(frozen, rel=TOLERANCE, abs=TOLERANCE)
    return found == frozen


@pytest.mark.slow
def test_findings_are_those_that_were_written_down():
    frozen = json.loads(FROZEN.read_text("utf-8"))
    found = json.loads(json.dumps(frozen_findings()))
    assert found.keys() == frozen.keys()
    compared, differ = 0, []
    for person, frames in frozen.items():
        for frame in (*FRAMES, "paths"):
            assert found[person][frame].keys() == frames[frame].keys(), (person, frame)
            for column, values in frames[frame].items():
                now = found[person][frame][column]
                pairs = zip(now, values, strict=True) if isinstance(values, list) else [(now, values)]
                for row, (one, other) in enumerate(pairs):
                    compared += 1
                    if not agree(one, other):
                        differ.append((person, frame, column, row, one, other))
        assert found[person]["log_next"] == frames["log_next"]
    assert compared > 10_000
    assert differ == []
