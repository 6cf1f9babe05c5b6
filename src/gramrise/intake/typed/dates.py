"""Dates as people of a language type them."""

from datetime import date

from gramrise.domain.problems import WrongUse


def local_date(text: str, language: str = "en") -> date:
    """A date as people of a language type it: 2026-03-09, 9.3.2026, 9 Mar 2026, 9. März 2026. Raises WrongUse.

    In English 9/3/2026 is one day here and another there: it is refused where both exist.
    """
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        from gramrise.intake.cells import possible_days  # only for other spellings: it loads what reads tables

        days = possible_days(text)
    if not days:
        raise WrongUse(f"'{text}' is not a date", "write 2026-03-09, 9.3.2026 or 9 Mar 2026")
    if len(days) > 1 and language == "en":
        raise WrongUse(f"'{text}' can be read day first or month first", "write 2026-03-09 or 9 Mar 2026")
    return days[0]
