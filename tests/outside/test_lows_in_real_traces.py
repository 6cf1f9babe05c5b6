"""Counts of lows in open research data equal the figures published beside them (first figure: a reading is held).

Sources: T1D-UOM (Alsuhaymi 2025), adolescents NL, HUPA-UCM (Hidalgo 2024), D1NAMO (Dubosson 2018); the counts are those
of the extracts' READMEs, made by another program.
"""

from datetime import UTC, datetime

import polars as pl
import pytest
from support.detect_traces import EVENTS_OF, needs_traces, trace_inputs

from gramrise.detect import detect

NOW = datetime(2026, 1, 1, tzinfo=UTC)
pytestmark = [pytest.mark.outside, needs_traces]


@pytest.mark.parametrize("name", EVENTS_OF)
def test_as_many_lows_are_found_as_the_readme_counts(name):
    assert detect(trace_inputs(name), NOW).lows.height == EVENTS_OF[name]


@pytest.mark.parametrize("name", EVENTS_OF)
def test_every_dose_of_a_real_log_is_used_or_set_aside_with_a_reason(name):
    inputs = trace_inputs(name)
    screened = detect(inputs, NOW).screened
    assert screened["doses_n"].sum() == inputs.doses.height
    assert set(screened["verdict"]) <= {"used", "set_aside"}
    assert screened.filter((pl.col("verdict") == "set_aside") & (pl.col("reasons").list.len() == 0)).height == 0
