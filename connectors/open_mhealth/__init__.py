"""Open mHealth and IEEE 1752.1 data points: blood glucose, body weight, one dose of a medication."""

from gramrise.connectors.open_mhealth.reader import (
    NAME,
    looks_like_open_mhealth,
    open_mhealth_line_records,
    read_open_mhealth,
)

__all__ = ["NAME", "looks_like_open_mhealth", "open_mhealth_line_records", "read_open_mhealth"]
