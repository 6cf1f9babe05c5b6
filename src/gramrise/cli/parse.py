"""What people type, read or refused: dates, zones, bands, weights, words of closed lists."""

from datetime import date, datetime, time
from math import isfinite
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import typer

from gramrise.domain.problems import WrongUse
from gramrise.domain.units import pounds_to_kg
from gramrise.intake import local_date

if TYPE_CHECKING:
    from gramrise.domain.bands import TimeBand
    from gramrise.domain.person import Person


def past_date(text: str, today: date, what: str, language: str = "en") -> date:
    """A date that has been, as typed. Raises WrongUse for one after `today`, the local date."""
    day = local_date(text, language)
    if day > today:
        raise WrongUse(f"{what}: {day.isoformat()} has not been yet", "look at the year")
    return day


def birth_date(text: str, today: date, language: str = "en") -> date:
    """A birth date as typed. Raises WrongUse for one that nobody alive can have."""
    day = past_date(text, today, "the birth date", language)
    # Our choice: nobody has lived to 125.
    if today.year - day.year > 125:
        raise WrongUse(f"nobody born on {day.isoformat()} is alive", "look at the year")
    return day


def time_zone(name: str) -> ZoneInfo:
    """A zone of the tz data as typed. Raises WrongUse."""
    # Three-letter zones mean different clocks in different countries (CST, IST).
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
            if not name.strip():
                raise ValueError(text)
            bands.append(TimeBand(one_line(name), clock(start), clock(end)))
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
        known = ", ".join(word or "''" for word in allowed)
        raise WrongUse(f"'{text}' is no {what}", f"one of: {known}")
    return text


def body_weight(typed: str) -> float:
    """A body weight in kg, of a number and its unit, kg or lb; a bare number is kg. Raises WrongUse."""
    text = typed.strip().lower().replace(" ", "").replace("lbs", "lb").replace(",", ".")
    try:
        number = float(text.removesuffix("kg").removesuffix("lb"))
    except ValueError as problem:
        raise WrongUse(f"'{typed}' is not a weight", "write one number and its unit, kg or lb") from problem
    kg = pounds_to_kg(number) if text.endswith("lb") else number
    # Our choice, as in the import of open standards: outside 2-300 kg a slip of the unit is likelier than a body.
    if not 2 <= kg <= 300:
        raise WrongUse(f"{kg:.1f} kg is not a body weight", "weights lie between 2 and 300 kg; pounds end in lb")
    return kg


def decimal(text: str) -> float:
    """A number of an option, with a decimal point or comma. Raises the framework's error, told in our words."""
    try:
        number = float(str(text).strip().replace(",", "."))
    except ValueError:
        raise typer.BadParameter(f"'{text}' is not a valid float") from None
    if not isfinite(number):
        raise typer.BadParameter(f"'{text}' is not a valid float")
    return number


def decimal_option(told: str) -> Any:
    """An option that takes a number with a decimal point or comma; `told` is its help."""
    return typer.Option(parser=decimal, help=told)


def source_name(name: str) -> str:
    """What the family calls a source, trimmed. Raises WrongUse for nothing: so a log calls grams of no source."""
    if not name.strip():
        raise WrongUse("a source needs a name", "call it as the log does: candy, night bottle")
    return one_line(name)


def one_line(name: str) -> str:
    """A name as it can be printed on a card: blanks pressed together. Raises WrongUse for one that is too long."""
    plain = " ".join(name.split())
    # Our choice: the longest of names fit; more is a slip of the clipboard.
    if len(plain) > 120:
        raise WrongUse(f"a name of {len(plain)} letters fits on no card", "shorten it to 120")
    return plain


def check_strength(grams_per_piece: float | None, grams_per_ml: float | None) -> None:
    """Raises WrongUse for a strength that no source can have."""
    # Our choice: intake sets aside so much in one dose. A syrup of all the glucose that cold water dissolves holds
    # about half a gram a mL, hot syrup under one (solubility 47 % by weight at 20 C; from memory).
    most_per_piece, most_per_ml = 60.0, 1.0
    if grams_per_piece is not None and grams_per_piece > most_per_piece:
        raise WrongUse(f"{grams_per_piece:g} g in one piece cannot be meant", "give the grams of glucose in ONE piece")
    if grams_per_ml is not None and grams_per_ml > most_per_ml:
        raise WrongUse(
            f"{grams_per_ml:g} g in one mL cannot be meant", "divide the grams by the mL: 15 g in 60 mL is 0.25"
        )


def plan_grams(grams: float | None) -> float | None:
    """An amount of the care plan in grams that can be meant. Raises WrongUse."""
    # Our choice, as in check_strength: more at once, or nothing, is a slip of the pen.
    if grams is not None and not 0 < grams <= 60:
        raise WrongUse(f"{grams:g} g cannot be meant as an amount of the plan", "give grams of glucose, up to 60")
    return grams


def plan_minutes(minutes: int | None) -> int | None:
    """When the plan looks again, in minutes, as it can be meant. Raises WrongUse."""
    # Our choice: guidelines look again after 10 to 15 minutes; an hour is a slip of the pen.
    if minutes is not None and not 5 <= minutes <= 30:
        raise WrongUse(f"{minutes} minutes cannot be meant for the second look", "give minutes, from 5 to 30")
    return minutes


def target_level(mg_dl: float) -> float:
    """A target level in mg/dL that can be meant. Raises WrongUse."""
    # Our choice: a target outside 80-180 mg/dL is a slip of the unit.
    if not 80 <= mg_dl <= 180:
        raise WrongUse(f"a target of {mg_dl:g} mg/dL cannot be meant", "give it in mg/dL, between 80 and 180")
    return mg_dl


def on_an_earlier_day(taken_utc: datetime, now_utc: datetime, who: "Person") -> bool:
    """Whether an instant lies on a day before today, on the person's clock."""
    zone = who.zone_now()
    return taken_utc.astimezone(zone).date() < now_utc.astimezone(zone).date()
