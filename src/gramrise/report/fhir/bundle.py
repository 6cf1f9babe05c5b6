"""The whole bundle of one person, as JSON text."""

import json
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import polars as pl

from gramrise.domain.findings import Findings, Inputs
from gramrise.report.fhir.elements import entry, issued
from gramrise.report.fhir.found import factor_records, low_records, provenance_records
from gramrise.report.fhir.logged import Named, dose_records, reading_records
from gramrise.report.fhir.sender import Sender
from gramrise.report.fhir.vocabulary import code_system, identity


def fhir_bundle(
    inputs: Inputs,
    findings: Findings,
    *,
    household: str,
    now_utc: datetime,
    days: int,
    more: Iterable[Named] = (),
) -> str:
    """A transaction bundle: what was logged and found in the last days of data, and each band's number.

    household  random letters made once for this home; with them a repeated bundle posts nothing new
    days       days of readings and glucose given before the findings' instant; older ones stay at home
    more       records of the review: drift and sign-off
    """
    sender = Sender(household, inputs.person, findings.model_version, now_utc)
    kept, lows = _last_days(inputs, findings, days)
    named: list[Named] = [
        (identity(household, "code system"), code_system()),
        (sender.device_name, sender.device()),
        (sender.patient_name, sender.patient()),
        *reading_records(kept.readings, sender),
        *dose_records(kept.doses, sender),
        *low_records(lows, kept, sender),
        *factor_records(findings, inputs.person.bands_now(), sender),
        *more,
        *provenance_records(findings, kept, sender),
    ]
    bundle: dict[str, Any] = {
        "resourceType": "Bundle",
        "type": "transaction",
        "timestamp": issued(now_utc),
        "entry": [entry(resource, own) for own, resource in named],
    }
    return json.dumps(bundle, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def _last_days(inputs: Inputs, findings: Findings, days: int) -> tuple[Inputs, pl.DataFrame]:
    """Readings, glucose given and lows of the last days, up to the instant of the findings."""
    to = findings.as_of_utc
    since = to - timedelta(days=days)
    kept = replace(
        inputs,
        readings=inputs.readings.filter(pl.col("at_utc").is_between(since, to)),
        doses=inputs.doses.filter(pl.col("taken_at_utc").is_between(since, to)),
    )
    return kept, findings.lows.filter(pl.col("start_utc").is_between(since, to))
