"""What a cell looks like, before it is read: a day, a time of day, a number."""

import re

_DAY = r"\d{1,4}([-/.: ])\d{1,2}\1\d{1,4}|\d{8}|\d{1,2}\.?[ -]?(?:de )?[^\W\d_]{3,10}\.?[ ,-]{0,9}(?:de )?\d{2,4}"
_DAY += r"|[^\W\d_]{3,10}\.? \d{1,2}(?:st|nd|rd|th)?,? \d{4}"
_CLOCK = r"\d{1,2}[:.h]\d{2}([:.]\d{2}([.,]\d{1,12})?)?( ?[^\W\d_][^\W\d_. ]{0,9}\.?( ?m\.)?)?|\d{6}|\d{4}"
_OFFSET = r" ?(Z|(UTC|GMT)?[+-]\d{2}:?(\d{2})?|UTC|GMT)(\[[\w/+-]{1,60}\])?"
_TIMED = re.compile(rf"(?:[^\W\d_]{{2,10}}\.?,? )?(?:{_DAY})(?:[T ,]{{1,9}}(?:{_CLOCK})(?:{_OFFSET})?)?", re.IGNORECASE)
CLOCK_ALONE = re.compile(r"\d{1,2}[:h]\d{2}(?::\d{2})?(?: ?[^\W\d_][^\W\d_. ]{0,9}\.?( ?m\.)?)?", re.IGNORECASE)
DAY_ALONE = re.compile(rf"(?:[^\W\d_]{{2,10}}\.?,? )?(?:{_DAY})", re.IGNORECASE)
_NUMBER = re.compile(r"[<>≤≥]?\s{0,9}[+-]?\d[\d.,' \u00a0\u202f]{0,40}")


def looks_timed(cell: str) -> bool:
    """A cell that holds a day, a time of day, or both, and nothing else."""
    text = cell.strip()
    return len(text) <= 60 and bool(_TIMED.fullmatch(text) or CLOCK_ALONE.fullmatch(text))


def looks_number(cell: str) -> bool:
    """A cell that holds one number, in any style, and nothing else."""
    return bool(_NUMBER.fullmatch(cell.strip()))
