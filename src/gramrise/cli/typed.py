"""What people type, read or refused: dates, zones, bands, weights, words of closed lists."""

from datetime import date, datetime, time
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from gramrise.domain.problems import WrongUse

if TYPE_CHECKING:
    from gramrise.domain.bands import TimeBand


def local_date(text: str) -> date:
    """A date as typed. Raises WrongUse."""
    try:
        return date.fromisoformat(text)
    except ValueError as problem:
        raise WrongUse(f"'{text}' is not a date", "write YYYY-MM-DD, as 2026-03-09") from problem


def time_zone(name: str) -> ZoneInfo:
    """A zone of the tz data as typed. Raises WrongUse."""
    # Three-letter zones mean different clocks in different countries (shared rule of the time cases).
    try:
        if "/" not in name and name != "UTC":
            raise KeyError(name)
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError) as problem:
        raise WrongUse(f"'{name}' is not a time zone of the tz data", "write it as Europe/Berlin") from problem


def time_bands(written: list[str]) -> "tuple[TimeBand, ...]":
    """Bands as typed, covering the day. Raises WrongUse."""
    from gramrise.domain.bands import TimeBand, check_bands

    def clock(text: str) -> time:
        return datetime.strptime(text, "%H:%M").time()  # noqa: DTZ007 - a wall clock, no instant

    bands = []
    for text in written:
        try:
            name, hours = text.split("=", 1)
            start, end = hours.split("-", 1)
            bands.append(TimeBand(name.strip(), clock(start), clock(end)))
        except ValueError as problem:
            raise WrongUse(f"'{text}' is not a time band", "write it as daytime=07:00-22:00") from problem
    return check_bands(tuple(bands))


def one_of(kind: Any, text: str, what: str) -> Any:
    """A member of a closed list by its word, capitals aside. Raises WrongUse listing them."""
    allowed = {str(member).lower(): member for member in kind}
    if text.lower() not in allowed:
        raise WrongUse(f"'{text}' is no {what}", f"one of: {', '.join(str(member) for member in kind)}")
    return allowed[text.lower()]


def choice(text: str, allowed: tuple[str, ...], what: str) -> str:
    """The text if it is allowed. Raises WrongUse listing what is."""
    if text not in allowed:
        raise WrongUse(f"'{text}' is no {what}", f"one of: {', '.join(word or 'nothing' for word in allowed)}")
    return text


def weight_number(text: str, whole: str) -> float:
    """A number as typed, decimal comma or point. Raises WrongUse."""
    try:
        return float(text.replace(",", "."))
    except ValueError as problem:
        raise WrongUse(f"'{whole}' is not a weight", "write 32.4kg or 71.5lb") from problem


def body_weight(kg: float) -> float:
    """A body weight in kg that can be meant. Raises WrongUse."""
    # Our choice, as in the import of open standards: outside 2-300 kg a slip of the unit is likelier than a body.
    if not 2 <= kg <= 300:
        raise WrongUse(f"{kg:.1f} kg is not a body weight", "weights lie between 2 and 300 kg; pounds end in lb")
    return kg


def target_level(mg_dl: float) -> float:
    """A target level in mg/dL that can be meant. Raises WrongUse."""
    # Our choice: a target outside 80-180 mg/dL is a slip of the unit.
    if not 80 <= mg_dl <= 180:
        raise WrongUse(f"a target of {mg_dl:g} mg/dL cannot be meant", "give it in mg/dL, between 80 and 180")
    return mg_dl
