"""Whole years and months on the calendar."""

from datetime import date


def whole_years(born: date, day: date) -> int:
    """Birthdays lived through; a child born on 29 February has them on 1 March."""
    return day.year - born.year - ((day.month, day.day) < (born.month, born.day))


def months_later(day: date, months: int) -> date:
    """The same day of the month so many months on, or that month's last day."""
    month = day.month - 1 + months
    year, month = day.year + month // 12, month % 12 + 1
    last = (date(year + month // 12, month % 12 + 1, 1) - date(year, month, 1)).days
    return date(year, month, min(day.day, last))
