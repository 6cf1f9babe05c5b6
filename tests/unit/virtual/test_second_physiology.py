"""The second physiology: its gut as published, and no code shared with the first."""

import ast
from pathlib import Path

import pytest
from virtual.second import body

FOLDER = Path(__file__).parents[2] / "virtual" / "second"


def test_the_second_physiology_shares_no_code_with_the_first() -> None:
    taken: set[tuple[str, str]] = set()
    files = list(FOLDER.glob("*.py"))
    assert len(files) >= 6
    for path in files:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            own = isinstance(node, ast.ImportFrom) and (node.module or "").startswith("virtual.second")
            if isinstance(node, ast.ImportFrom) and "virtual" in (node.module or "") and not own:
                taken |= {(str(node.module), name.name) for name in node.names}
            assert not (isinstance(node, ast.ImportFrom) and node.level), f"{path.name}: write it whole"
            assert not (isinstance(node, ast.Import) and any("virtual" in name.name for name in node.names))
    # The container alone, so that one benchmark reads both.
    assert taken == {("virtual", "Cohort")}


@pytest.mark.outside
def test_an_amount_below_the_critical_one_leaves_the_stomach_in_two_ramps() -> None:
    # Lehmann & Deutsch 1992 (T11, from memory): 120 mmol/h at most, ramps of 30 min, critical 10.8 g in an adult.
    ramp, most = body.MEAL_RAMP_MIN, body.MOST_EMPTYING_G_MIN
    assert most * ramp == pytest.approx(10.8, abs=0.02)
    assert body.emptied_share.py_func(30.0, 8.0, ramp, most) == pytest.approx(0.5)
    assert body.emptied_share.py_func(60.0, 8.0, ramp, most) == pytest.approx(1.0)


@pytest.mark.outside
def test_a_larger_amount_empties_at_the_published_most_in_between() -> None:
    # 120 mmol/h of 180.156 mg/mmol is 21.6 g/h: between the ramps each minute brings 0.36 g.
    ramp, most, grams = body.MEAL_RAMP_MIN, body.MOST_EMPTYING_G_MIN, 60.0
    share = [body.emptied_share.py_func(float(m), grams, ramp, most) for m in (60, 61)]
    assert (share[1] - share[0]) * grams == pytest.approx(0.36, abs=0.001)
    assert body.emptied_share.py_func(500.0, grams, ramp, most) == 1.0
