"""Tables as people's programs write them: one invented trace in many spellings. Words are general ones."""

import gzip
import io
import json
import random
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from gramrise.domain.person import Dated, Person
from gramrise.domain.sources import Form, Source, StatedAs

BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(2026, 6, 1, tzinfo=UTC)
SINCE = date(2020, 1, 1)
TABLETS = Source("tablets", Form.TABLET, 4.0, None, StatedAs.ANHYDROUS, True, ("candy", "Traubenzucker"))
BOTTLE = Source("night bottle", Form.LIQUID, None, 0.25, StatedAs.ANHYDROUS, False, ("Saft",))
PERSON = Person("P1", date(2014, 1, 1), Dated(((SINCE, BERLIN),)), sources=Dated(((SINCE, (TABLETS, BOTTLE)),)))
MMOL = 18.0156


def trace(start: datetime, rows: int, step: int = 5, seed: int = 1) -> list[tuple[datetime, float]]:
    """Instants every `step` minutes and glucose in mg/dL, a slow wander between 60 and 220."""
    draw = random.Random(seed)
    level, found = 120.0, []
    for at in range(rows):
        level = min(220.0, max(60.0, level + draw.uniform(-6, 6)))
        found.append((start + timedelta(minutes=step * at), float(round(level))))
    return found


# From Friday 13 to Sunday 15 March 2026, Berlin: parts over 12, two midnights.
TRUTH = trace(datetime(2026, 3, 12, 23, 2, tzinfo=UTC), 500)
# From 3 to 5 March: no part over 12, but midnights crossed at the usual step.
EARLY = trace(datetime(2026, 3, 2, 23, 4, tzinfo=UTC), 500)
# Within 3 March: nothing tells day from month.
ONE_DAY = trace(datetime(2026, 3, 3, 5, 0, tzinfo=UTC), 120)
# Over the night of 26 October 2025, when 02:00 to 03:00 came twice in Berlin.
AUTUMN = trace(datetime(2025, 10, 25, 20, 3, tzinfo=UTC), 120)
# Over the night of 29 March 2026, when 02:00 to 03:00 never was.
SPRING = trace(datetime(2026, 3, 28, 22, 1, tzinfo=UTC), 120)
LONG = trace(datetime(2026, 3, 12, 23, 0, tzinfo=UTC), 900, 15)


@dataclass(frozen=True)
class Variant:
    """How one table is written, and what must come of it: its readings, or the code with which it waits."""

    name: str
    truth: list[tuple[datetime, float]] = field(default_factory=lambda: TRUTH)
    waits: str = ""  # '' where it must be read without a question
    unit: str = "mg/dL"
    header: tuple[str, ...] | None = ("Time", "Glucose (mg/dL)")
    form: str = "%Y-%m-%d %H:%M"
    split: str = ""  # form of the time of day where it stands apart
    zone: ZoneInfo = BERLIN
    delimiter: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    preamble: tuple[str, ...] = ()
    line_end: str = "\n"
    newest_first: bool = False
    before: tuple[str, ...] = ()  # cells before the time
    after: tuple[str, ...] = ()  # cells behind the value
    footer: tuple[str, ...] = ()
    number: Callable[[float], str] | None = None
    stamp: Callable[[datetime], str] | None = None
    low_word: str = ""  # written for values under 70
    wrap: Callable[[bytes], bytes] | None = None
    suffix: str = ".csv"
    numbered: bool = False  # 1, 2, 3 ... before each row
    shown: str = ""  # a second header row

    def cells(self) -> list[list[str]]:
        rows = self.truth[::-1] if self.newest_first else self.truth
        if self.numbered:
            return [[str(at), *self._time(row[0]), self._value(row[1])] for at, row in enumerate(rows, 1)]
        return [[*self.before, *self._time(at), self._value(level), *self.after] for at, level in rows]

    def _time(self, at: datetime) -> list[str]:
        if self.stamp is not None:
            return [self.stamp(at)]
        local = at.astimezone(self.zone)
        return [local.strftime(self.form), *([local.strftime(self.split)] if self.split else [])]

    def _value(self, level: float) -> str:
        if self.low_word and level < 70:
            return self.low_word
        if self.number is not None:
            return self.number(level)
        text = f"{level / MMOL:.1f}" if self.unit == "mmol/L" else f"{level:.0f}"
        return text.replace(".", self.decimal)

    def data(self) -> bytes:
        rows = self.cells()
        head = [list(self.header)] if self.header is not None else []
        second = [self.shown.split(self.delimiter)] if self.shown else []
        lines = [*self.preamble, *(self.delimiter.join(row) for row in [*head, *second, *rows]), *self.footer]
        plain = self.line_end.join([*lines, ""]).encode(self.encoding)
        return self.wrap(plain) if self.wrap is not None else plain

    def expected(self) -> list[tuple[datetime, float, str]]:
        """(instant, mg/dL, range), in order of time."""
        found = []
        for at, level in self.truth:
            if self.low_word and level < 70:
                found.append((at, 40.0, "below"))
            elif self.unit == "mmol/L":
                found.append((at, round(level / MMOL, 1) * MMOL, "in"))
            else:
                found.append((at, level, "in"))
        return found


def zipped(plain: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("table.csv", plain)
    return out.getvalue()


def workbook(sheet_rows: list[list[object]], title: str = "Sheet") -> bytes:
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = title
    for row in sheet_rows:
        sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _sheet(variant: Variant) -> bytes:
    rows = [[at.astimezone(BERLIN).replace(tzinfo=None), level] for at, level in variant.truth]
    return workbook([["Kept by the family"], [], ["Time", "Glucose (mg/dL)"], *rows])


def _sheet_apart(variant: Variant) -> bytes:
    rows = []
    for at, level in variant.truth:
        local = at.astimezone(BERLIN)
        rows.append([local.date(), local.time(), round(level / MMOL, 1)])
    return workbook([["Datum", "Uhrzeit", "Zucker (mmol/L)"], *rows])


def _json(variant: Variant, lines: bool) -> bytes:
    entries = [{"time": at.isoformat(), "glucose": {"value": level, "unit": "mg/dL"}} for at, level in variant.truth]
    return ("\n".join(map(json.dumps, entries)) if lines else json.dumps(entries, indent=1)).encode()


GERMAN = ("Datum", "Uhrzeit", "Zucker (mmol/L)")
MONTHS_DE = ("Jan", "Feb", "März", "Apr", "Mai", "Juni", "Juli", "Aug", "Sep", "Okt", "Nov", "Dez")


def _german_month(at: datetime) -> str:
    local = at.astimezone(BERLIN)
    return f"{local.day}. {MONTHS_DE[local.month - 1]} {local.year} {local:%H:%M}"


def _spanish_month(at: datetime) -> str:
    local = at.astimezone(BERLIN)
    name = [
        "enero",
        "febrero",
        "marzo",
        "abril",
        "mayo",
        "junio",
        "julio",
        "agosto",
        "septiembre",
        "octubre",
        "noviembre",
        "diciembre",
    ]
    return f"{local.day} de {name[local.month - 1]} de {local.year} {local:%H:%M}"


def _half_day(at: datetime) -> str:
    local = at.astimezone(BERLIN)
    return f"{local:%Y-%m-%d} {local.hour % 12 or 12}:{local:%M}"


MM = Variant("mmol", unit="mmol/L", header=("Time", "Glucose (mmol/L)"))
DE = Variant("de", unit="mmol/L", header=GERMAN, delimiter=";", decimal=",", form="%d.%m.%Y", split="%H:%M")
PRE = ("Report of the family", "", "Printed on a rainy day, for the kitchen", "Person: one child")


def decided() -> list[Variant]:
    """Variants whose content proves how they are read."""
    base = Variant("plain commas, mg/dL")
    return [
        base,
        MM,
        replace(MM, name="mmol/L by 500 values alone", header=("Time", "Glucose")),
        replace(base, name="mg/dL by 500 values alone", header=("Time", "Glucose")),
        replace(base, name="semicolons", delimiter=";"),
        replace(base, name="tabs", delimiter="\t"),
        replace(base, name="bars", delimiter="|"),
        replace(DE, name="German, decimal comma, day and clock apart"),
        replace(DE, name="German in cp1252", encoding="cp1252", preamble=("Blatt für Zoë, übers Jahr",)),
        replace(DE, name="German in UTF-16 with mark", encoding="utf-16"),
        replace(DE, name="German in UTF-16 without mark", encoding="utf-16-le"),
        replace(DE, name="German in big-endian UTF-16 without mark", encoding="utf-16-be"),
        replace(base, name="UTF-8 with mark", encoding="utf-8-sig"),
        replace(base, name="CR LF line ends", line_end="\r\n"),
        replace(base, name="CR line ends", line_end="\r"),
        replace(base, name="one preamble line", preamble=("Kept by the family",)),
        replace(base, name="preamble with blank lines", preamble=PRE),
        replace(base, name="30 preamble lines", preamble=tuple(f"remark {chr(97 + at % 26)}" for at in range(30))),
        replace(base, name="preamble with a quoted line break", preamble=('"two', 'lines"', "")),
        replace(base, name="preamble with dates", preamble=("From,2026-03-13", "To,2026-03-15", "")),
        replace(base, name="newest first", newest_first=True),
        replace(DE, name="German newest first", newest_first=True),
        replace(base, name="offsets written", form="%Y-%m-%dT%H:%M:%S%z"),
        replace(base, name="UTC with Z", form="%Y-%m-%dT%H:%M:%SZ", zone=ZoneInfo("UTC")),
        replace(base, name="offset of another zone", form="%Y-%m-%d %H:%M%z", zone=ZoneInfo("America/Chicago")),
        replace(base, name="seconds and fractions", form="%Y-%m-%d %H:%M:%S.000"),
        replace(base, name="day first with slashes, part over 12", form="%d/%m/%Y %H:%M"),
        replace(base, name="month first with slashes, part over 12", form="%m/%d/%Y %H:%M"),
        replace(base, name="month first, 12 hours", form="%m/%d/%Y %I:%M %p"),
        replace(base, name="month first, 12 hours with seconds", form="%m/%d/%Y %I:%M:%S %p"),
        replace(base, name="day first by midnights crossed", truth=EARLY, form="%d/%m/%Y %H:%M"),
        replace(base, name="month first by midnights crossed", truth=EARLY, form="%m/%d/%Y %H:%M"),
        replace(base, name="dots by midnights crossed", truth=EARLY, form="%d.%m.%Y %H:%M"),
        replace(base, name="newest first by midnights", truth=EARLY, form="%d/%m/%Y %H:%M", newest_first=True),
        replace(base, name="two-digit years, day first", form="%d.%m.%y %H:%M", truth=LONG),
        replace(base, name="two-digit years, month first", form="%m/%d/%y %H:%M", truth=LONG),
        replace(base, name="dashes, day first", form="%d-%m-%Y %H:%M"),
        replace(base, name="English month names", form="%d %b %Y %H:%M"),
        replace(base, name="English month names first", form="%B %d, %Y %H:%M", delimiter=";"),
        replace(base, name="German month names", stamp=_german_month, delimiter=";"),
        replace(base, name="Spanish month names", stamp=_spanish_month, delimiter=";"),
        replace(base, name="weekday before the date", form="%a %d.%m.%Y %H:%M"),
        replace(base, name="epoch seconds", stamp=lambda at: str(int(at.timestamp()))),
        replace(base, name="epoch milliseconds", stamp=lambda at: str(int(at.timestamp() * 1000))),
        replace(base, name="basic ISO", form="%Y%m%dT%H%M%S"),
        replace(base, name="slashes year first", form="%Y/%m/%d %H:%M"),
        replace(base, name="date and clock apart, year first", header=("Date", "Clock", "Glucose (mg/dL)"),
                form="%Y-%m-%d", split="%H:%M:%S"),
        replace(base, name="date and 12-hour clock apart", header=("Date", "Hour", "Glucose (mg/dL)"),
                form="%m/%d/%Y", split="%I:%M %p"),
        replace(MM, name="French", header=("Date", "Heure", "Glycémie (mmol/L)"), form="%d/%m/%Y", split="%H:%M",
                delimiter=";", decimal=","),
        replace(MM, name="French hours with h", header=("Date", "Heure", "Glycémie (mmol/L)"), form="%d/%m/%Y",
                split="%Hh%M", delimiter=";", decimal=","),
        replace(base, name="Spanish", header=("Fecha", "Hora", "Glucosa (mg/dL)"), form="%d/%m/%Y", split="%H:%M"),
        replace(base, name="French in cp1252", header=("Date", "Heure", "Glycémie (mg/dL)"), form="%d/%m/%Y",
                split="%H:%M", encoding="cp1252"),
        replace(base, name="a second header row with units", header=("Time", "Glucose"), shown=",mg/dL"),
        replace(MM, name="a second header row in mmol/L", header=("Time", "Glucose"), shown=",mmol/L"),
        replace(base, name="trailing delimiters", header=("Time", "Glucose (mg/dL)", ""), after=("",)),
        replace(base, name="trailing delimiters not in the header", after=("",)),
        replace(base, name="everything quoted", header=('"Time"', '"Glucose (mg/dL)"'), form='"%Y-%m-%d %H:%M"',
                number=lambda level: f'"{level:.0f}"'),
        replace(base, name="a quoted line break in a remark", header=("Time", "Glucose (mg/dL)", "Note"),
                after=('"at home\nin bed"',)),
        replace(base, name="delimiter within a remark", header=("Time", "Glucose (mg/dL)", "Note"),
                after=('"at home, in bed"',)),
        replace(base, name="a total line at the end", footer=("Average,131",)),
        replace(base, name="a German total line", header=("Zeit", "Zucker (mg/dL)"), delimiter=";",
                footer=("Mittelwert;131",)),
        replace(base, name="remarks behind the table", footer=("", "End of the list")),
        replace(base, name="the header again in the middle of nowhere", footer=("Time,Glucose (mg/dL)",)),
        replace(base, name="low in words", low_word="Low"),
        replace(DE, name="below range in German", low_word="unter Messbereich"),
        replace(base, name="bas in French", header=("Date", "Heure", "Glycémie (mg/dL)"), form="%d/%m/%Y",
                split="%H:%M", low_word="Bas"),
        replace(base, name="bajo in Spanish", header=("Fecha", "Hora", "Glucosa (mg/dL)"), form="%d/%m/%Y",
                split="%H:%M", low_word="Bajo"),
        replace(base, name="less than forty", low_word="<40"),
        replace(base, name="unit behind each value", header=("Time", "Glucose"), number=lambda v: f"{v:.0f} mg/dL"),
        replace(base, name="unit in a column of its own", header=("Time", "Glucose", "Unit"), after=("mg/dL",)),
        replace(MM, name="mmol/L in a column of its own", header=("Time", "Glucose", "Unit"), after=("mmol/L",)),
        replace(base, name="unit in the preamble", header=("Time", "Glucose"), preamble=("All values in mg/dL", "")),
        replace(base, name="decimals in mg/dL", number=lambda level: f"{level:.1f}"),
        replace(base, name="other columns beside", header=("Number", "Time", "Steps", "Glucose (mg/dL)"), before=("7",),
                number=lambda level: f"12,{level:.0f}"),
        replace(base, name="an empty column before", header=("", "Time", "Glucose (mg/dL)"), before=("",)),
        replace(base, name="one person named", header=("Person", "Time", "Glucose (mg/dL)"), before=("Robin",)),
        replace(base, name="over the autumn night", truth=AUTUMN, header=("Zeit", "Glukose (mg/dL)")),
        replace(base, name="over the autumn night, newest first", truth=AUTUMN, newest_first=True),
        replace(base, name="over the spring night", truth=SPRING),
        replace(base, name="over the autumn night with offsets", truth=AUTUMN, form="%Y-%m-%dT%H:%M%z"),
        replace(base, name="gzip", wrap=gzip.compress, suffix=".csv.gz"),
        replace(DE, name="German gzip", wrap=gzip.compress, suffix=".gz"),
        replace(base, name="zip", wrap=zipped, suffix=".zip"),
        replace(base, name="workbook", wrap=lambda _plain: _sheet(base), suffix=".xlsx"),
        replace(MM, name="workbook, date and clock apart", wrap=lambda _plain: _sheet_apart(MM), suffix=".xlsx"),
        replace(base, name="JSON array", wrap=lambda _plain: _json(base, lines=False), suffix=".json"),
        replace(base, name="JSON lines", wrap=lambda _plain: _json(base, lines=True), suffix=".ndjson"),
        replace(base, name="15 minutes apart", truth=LONG),
        replace(base, name="sensor in the header, hours apart", truth=TRUTH[::24], header=("Time",
                "Sensor glucose (mg/dL)")),
        replace(base, name="kind in a column", header=("Time", "Type", "Glucose (mg/dL)"),
                form="%Y-%m-%d %H:%M,sensor"),
        replace(base, name="both units, a column each", header=("Time", "Glucose (mg/dL)", "Glucose (mmol/L)"),
                number=lambda level: f"{level:.0f},{level / MMOL:.1f}"),
        replace(base, name="UTC in the header", header=("Time (UTC)", "Glucose (mg/dL)"), zone=ZoneInfo("UTC")),
        replace(base, name="targets and changes beside", header=("Time", "Glucose (mg/dL)", "Glucose target (mg/dL)"),
                after=("110",)),
        replace(base, name="preamble of names, stamps and periods",
                preamble=("Name,Kim,,", "Exported,2026-03-15 10:15,,", "Period,2026-03-13,2026-03-15,", ",,,")),
        replace(base, name="day first by the header's own word", truth=ONE_DAY, form="%d/%m/%Y %H:%M",
                header=("Time (DD/MM/YYYY hh:mm)", "Glucose (mg/dL)")),
        replace(base, name="German order in the header", truth=ONE_DAY, form="%d.%m.%Y", split="%H:%M",
                header=("Datum (TT.MM.JJJJ)", "Uhr", "Zucker (mg/dL)"), delimiter=";"),
        replace(base, name="month first by the header's own word", truth=ONE_DAY, form="%m/%d/%Y %H:%M",
                header=("Time (mm/dd/yyyy)", "Glucose (mg/dL)")),
        replace(base, name="UTC in a joined word", header=("timestamp_utc", "glucose_mg_dl"), zone=ZoneInfo("UTC")),
        replace(base, name="UTC in a camel's word", header=("timeUTC", "glucose"), zone=ZoneInfo("UTC")),
        replace(DE, name="everything quoted, decimal comma", header=('"Datum"', '"Uhr"', '"Zucker (mmol/L)"'),
                form='"%d.%m.%Y"', split='"%H:%M"', number=lambda level: f'"{level / MMOL:.1f}"'.replace(".", ",")),
        replace(base, name="an end beside the start", header=("Start time", "End time", "Glucose (mg/dL)"),
                form="%Y-%m-%d %H:%M,2026-03-16 00:00"),
        replace(base, name="an offset in a column of its own", header=("Time", "Offset", "Glucose (mg/dL)"),
                form="%Y-%m-%d %H:%M,+01:00"),
        replace(base, name="a weekday in a column of its own", header=("Weekday", "Time", "Glucose (mg/dL)"),
                form="%A,%d.%m.%Y %H:%M"),
        replace(base, name="figures of a summary above", preamble=("Average,131", "Highest,220", "")),
        replace(base, name="blank lines between", line_end="\n\n"),
        replace(base, name="day or month: one day, dots", form="%d.%m.%Y %H:%M", truth=ONE_DAY),
        replace(base, name="blanks around cells", delimiter=" ; "),
        replace(base, name="thousands marks that nobody needs", header=("Time", "Steps", "Glucose (mg/dL)"),
                delimiter=";", number=lambda level: f"1,250;{level:.1f}"),
    ]  # fmt: skip


def undecidable() -> list[Variant]:
    """Variants with more than one possible reading: each must wait, with the code of the right question."""
    base = Variant("undecidable", truth=ONE_DAY)
    few = ONE_DAY[:30]
    return [
        replace(base, name="day or month: one day, slashes", form="%d/%m/%Y %H:%M", waits="day_month_open"),
        replace(base, name="day or month: clock apart", header=("Date", "Clock", "Glucose (mg/dL)"), form="%d/%m/%Y",
                split="%H:%M", waits="day_month_open"),
        replace(base, name="day, month or year: two digits each", form="%d.%m.%y %H:%M", waits="day_month_open"),
        replace(base, name="no unit, 120 values", header=("Time", "Glucose"), waits="unit_open"),
        replace(MM, name="no unit, 30 values of mmol/L", truth=few, header=("Time", "Glucose"), waits="unit_open"),
        replace(base, name="both units in the header", header=("Time", "Glucose (mg/dL or mmol/L)"), waits="unit_open"),
        replace(base, name="the header's unit is not the values'", header=("Time", "Glucose (mmol/L)"),
                waits="unit_contradicted"),
        replace(base, name="no header, few values", header=None, waits="no_meaning"),
        replace(base, name="no header, 500 values", truth=TRUTH, header=None, waits="no_meaning"),
        replace(MM, name="no header, 500 values in mmol/L", truth=TRUTH, header=None, waits="no_meaning"),
        replace(base, name="no header, row numbers first", truth=TRUTH, header=None, numbered=True, waits="no_meaning"),
        replace(base, name="a header that says nothing", header=("Time", "Figures"), waits="no_meaning"),
        replace(base, name="12 hours without morning or afternoon", stamp=_half_day, truth=TRUTH,
                waits="half_day_open"),
        replace(base, name="two persons", header=("Person", "Time", "Glucose (mg/dL)"), truth=TRUTH,
                form="%Y-%m-%d %H:%M", before=("Robin",), footer=("Kim,2026-03-15 12:00,100",),
                        waits="several_persons"),
        replace(base, name="two columns of times", header=("Time", "Recorded time", "Glucose (mg/dL)"),
                form="%Y-%m-%d %H:%M,2026-03-03 04:00", waits="clock_open"),
        replace(base, name="spreadsheet days undeclared", header=("Time", "Glucose (mg/dL)"),
                stamp=lambda at: f"{46084 + at.hour / 24 + at.minute / 1440:.6f}", waits="serial_open"),
        replace(base, name="a kind nobody knows", header=("Time", "Type", "Glucose (mg/dL)"),
                form="%Y-%m-%d %H:%M,sensor", footer=("2026-03-03 18:00,wonder,100",), waits="kind_open"),
        replace(base, name="sensor or finger: hours apart", truth=TRUTH[::48], header=("When", "Glucose (mg/dL)",
                "Mood"),
                after=("fine",), waits="sensor_or_finger"),
        replace(base, name="two columns of glucose that differ", truth=TRUTH,
                header=("Time", "Sensor glucose (mg/dL)", "Glucose (mg/dL)"),
                number=lambda level: f"{level:.0f},{level + 9:.0f}", waits="glucose_columns_open"),
        replace(base, name="an abbreviated zone", header=("Time (CET)", "Glucose (mg/dL)"), truth=TRUTH,
                waits="zone_open"),
        replace(base, name="a zone in the preamble", truth=TRUTH, preamble=("All times are GMT+2", ""),
                header=("Time", "Glucose (mg/dL)"), waits="zone_open"),
        replace(base, name="something else in mg/dL", header=("Time", "Cholesterol (mg/dL)"), waits="no_meaning"),
        replace(base, name="something else in mmol/L", header=("Time", "Ketones (mmol/L)"), waits="no_meaning"),
        replace(base, name="a dose of what", header=("Time", "Dose"), number=lambda _level: "4",
                waits="dose_kind_open"),
        replace(base, name="an amount of what", header=("Time", "Amount"), number=lambda _level: "4",
                waits="dose_kind_open"),
        replace(base, name="clock without a day", header=("Clock", "Glucose (mg/dL)"), form="%H:%M", waits="no_day"),
        replace(base, name="no clock at all", header=("Place", "Glucose (mg/dL)"), form="kitchen",
                waits="nothing_found"),
    ]  # fmt: skip
