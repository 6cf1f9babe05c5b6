"""Tables of known truth, drawn from seeds: languages x kinds x shapes x faults, each with what must come of it.

A table is `read` (its content says everything: it may be read at once, or asked) or must be `ask`ed about. The words
are general ones of the trade in nine languages.
"""

import json
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from gramrise.intake import FileTrouble, FileWaits, read_file
from support.variants import BERLIN, MMOL, NOW, PERSON

RIGHT, ASKED_RIGHTLY, ASKED_NEEDLESSLY = "right", "asked rightly", "asked needlessly"
WRONG, LOST = "WRONG", "LOST IN SILENCE"
VERDICTS = (RIGHT, ASKED_RIGHTLY, ASKED_NEEDLESSLY, WRONG, LOST)

# when, date, clock, glucose, sensor glucose, finger, insulin (rapid), long insulin, carbohydrate, weight, note,
# glucose tablets, kind, value, unit, heart rate, target
WORDS = {
    "en": (
        "Time",
        "Date",
        "Clock",
        "Blood glucose",
        "Sensor glucose",
        "Fingerstick glucose",
        "Bolus",
        "Basal",
        "Carbohydrate",
        "Body weight",
        "Note",
        "Glucose tablets",
        "Parameter",
        "Value",
        "Unit",
        "Heart rate",
        "Target glucose",
    ),
    "de": (
        "Zeitpunkt",
        "Datum",
        "Uhrzeit",
        "Blutzucker",
        "Sensorglukose",
        "Fingertest Glukose",
        "Bolus",
        "Basal",
        "Kohlenhydrate",
        "Gewicht",
        "Bemerkung",
        "Traubenzucker",
        "Merkmal",
        "Wert",
        "Einheit",
        "Herzfrequenz",
        "Zielwert Zucker",
    ),
    "fr": (
        "Horodatage",
        "Date",
        "Heure",
        "Glycémie",
        "Glucose capteur",
        "Glycémie capillaire",
        "Bolus",
        "Basale",
        "Glucides",
        "Poids",
        "Remarque",
        "Comprimés de glucose",
        "Paramètre",
        "Valeur",
        "Unité",
        "Fréquence cardiaque",
        "Objectif de glycémie",
    ),
    "es": (
        "Momento",
        "Fecha",
        "Hora",
        "Glucemia",
        "Glucosa del sensor",
        "Glucemia capilar",
        "Bolo",
        "Basal",
        "Carbohidratos",
        "Peso",
        "Comentario",
        "Pastillas de glucosa",
        "Parámetro",
        "Valor",
        "Unidad",
        "Frecuencia cardíaca",
        "Objetivo de glucosa",
    ),
    "it": (
        "Momento",
        "Data",
        "Ora",
        "Glicemia",
        "Glucosio sensore",
        "Glicemia capillare",
        "Bolo",
        "Basale",
        "Carboidrati",
        "Peso",
        "Osservazioni",
        "Compresse di glucosio",
        "Parametro",
        "Valore",
        "Unità",
        "Frequenza cardiaca",
        "Obiettivo glicemia",
    ),
    "nl": (
        "Tijdstip",
        "Datum",
        "Tijd",
        "Bloedglucose",
        "Sensorglucose",
        "Vingerprik glucose",
        "Bolus",
        "Basaal",
        "Koolhydraten",
        "Gewicht",
        "Opmerking",
        "Druivensuiker",
        "Soort",
        "Waarde",
        "Eenheid",
        "Hartslag",
        "Streefwaarde glucose",
    ),
    "pl": (
        "Czas",
        "Data",
        "Godzina",
        "Glikemia",
        "Glukoza z czujnika",
        "Glikemia z palca",
        "Bolus",
        "Baza",
        "Węglowodany",
        "Waga",
        "Uwagi",
        "Tabletki glukozy",
        "Rodzaj",
        "Wartość",
        "Jednostka",
        "Tętno",
        "Docelowa glikemia",
    ),
    "sv": (
        "Tidpunkt",
        "Datum",
        "Klockslag",
        "Blodsocker",
        "Sensorglukos",
        "Kapillärt blodsocker",
        "Bolus",
        "Basal",
        "Kolhydrater",
        "Vikt",
        "Anteckning",
        "Druvsocker",
        "Typ",
        "Värde",
        "Enhet",
        "Puls",
        "Målvärde glukos",
    ),
    "pt": (
        "Momento",
        "Data",
        "Hora",
        "Glicemia",
        "Glicose do sensor",
        "Glicemia capilar",
        "Bolo",
        "Basal",
        "Carboidratos",
        "Peso",
        "Observações",
        "Comprimidos de glicose",
        "Parâmetro",
        "Valor",
        "Unidade",
        "Frequência cardíaca",
        "Glicemia alvo",
    ),
}
KEYS = (
    "when",
    "date",
    "clock",
    "glucose",
    "sensor",
    "finger",
    "insulin",
    "long",
    "carbs",
    "weight",
    "note",
    "tablets",
    "kind",
    "value",
    "unit",
    "heart",
    "target",
)
UNITS = {"mg/dL": ("mg/dL", "mg/dl", "mg%", "MG/DL"), "mmol/L": ("mmol/L", "mmol/l", "mmol")}
INSULIN_UNIT = {"en": "U", "de": "IE", "fr": "U", "es": "UI", "it": "U", "nl": "IE", "pl": "j", "sv": "E", "pt": "UI"}


@dataclass
class Drawn:
    """One table: its bytes, whether it may be read, and its truth by kind of row: (instant or day, number)."""

    name: str
    label: str  # read | ask
    data: bytes
    suffix: str = ".csv"
    truth: dict[str, list[tuple[object, float | None]]] = field(default_factory=dict)
    family: str = ""


@dataclass
class Draw:
    """The draws of one table."""

    seed: int
    language: str
    random: random.Random

    def word(self, key: str) -> str:
        return WORDS[self.language][KEYS.index(key)]

    def headed(self, key: str, unit: str = "") -> str:
        """A header with its unit in one of the usual places."""
        if not unit:
            return self.word(key)
        form = self.random.choice(("{} ({})", "{} [{}]", "{} {}", "{}, {}"))
        return form.format(self.word(key), unit)


def table_of(
    draw: Draw, header: list[str], rows: list[list[str]], *, above: tuple[str, ...] = (), mark: str = ""
) -> bytes:
    mark = mark or draw.random.choice((",", ";", "\t"))
    quoted = [[f'"{cell}"' if mark in cell else cell for cell in row] for row in [header, *rows]]
    text = "\n".join([*above, *(mark.join(row) for row in quoted), ""])
    return text.encode("utf-8")


def instants(draw: Draw, count: int, step_minutes: float) -> list[datetime]:
    """Times from the 13th of a month on, so that day and month are proved, clear of clock changes."""
    month = draw.random.choice((1, 2, 4, 5))
    begin = datetime(2026, month, 13, draw.random.randrange(0, 8), draw.random.randrange(0, 60), tzinfo=UTC)
    return [begin + timedelta(minutes=step_minutes * at) for at in range(count)]


STAMPS: tuple[str, ...] = (
    "%Y-%m-%d %H:%M",
    "%d.%m.%Y %H:%M",
    "%d/%m/%Y %H:%M",
    "%Y-%m-%dT%H:%M:%S",
    "%m/%d/%Y %I:%M %p",
)


def stamped(draw: Draw) -> Callable[[datetime], str]:
    form = draw.random.choice(STAMPS)
    return lambda at: at.astimezone(BERLIN).strftime(form)


def levels(draw: Draw, count: int) -> list[float]:
    level, found = 130.0, []
    for _ in range(count):
        level = min(240.0, max(62.0, level + draw.random.uniform(-9, 9)))
        found.append(float(round(level)))
    return found


def written(level: float, unit: str, decimal: str = ".") -> tuple[str, float]:
    """A level as written, and what it is in mg/dL."""
    if unit == "mmol/L":
        text = f"{level / MMOL:.1f}"
        return text.replace(".", decimal), float(text) * MMOL
    return f"{level:.0f}", level


# -- families: each makes one table -----------------------------------------------------------------------------------


def readings(draw: Draw) -> Drawn:
    """Wide readings of a sensor, with columns beside that are known to be no matter."""
    unit = draw.random.choice(("mg/dL", "mmol/L"))
    at, told = instants(draw, 60, 5), levels(draw, 60)
    stamp, shown = stamped(draw), draw.random.choice(UNITS[unit])
    apart = draw.random.random() < 0.4
    header = [draw.word("date"), draw.word("clock")] if apart else [draw.word("when")]
    key = draw.random.choice(("glucose", "sensor"))
    header.append(draw.headed(key, shown))
    beside = draw.random.sample(("heart", "target"), draw.random.randrange(0, 3))
    header += [draw.word(other) for other in beside]
    rows, truth = [], []
    for instant, level in zip(at, told, strict=True):
        cell, value = written(level, unit)
        local = instant.astimezone(BERLIN)
        time = [f"{local:%d.%m.%Y}", f"{local:%H:%M}"] if apart else [stamp(instant)]
        rows.append([*time, cell, *["88" if other == "heart" else "110" for other in beside]])
        truth.append((instant, value))
    if draw.random.random() < 0.3 and not beside:
        rows.reverse()
    above = draw.random.choice(((), (), ("Kim",), ("Page 1 of 2", ""), ("Exported: 2026-05-30 08:00", "")))
    return Drawn("readings", "read", table_of(draw, header, rows, above=above), truth={"readings": truth})


def half_understood(draw: Draw) -> Drawn:
    """Readings beside insulin and carbohydrate in the same rows: nothing of it may be lost."""
    at, told, stamp = instants(draw, 60, 5), levels(draw, 60), stamped(draw)
    header = [
        draw.word("when"),
        draw.headed("glucose", "mg/dL"),
        draw.headed("insulin", INSULIN_UNIT[draw.language]),
        draw.headed("carbs", "g"),
        draw.word("note"),
    ]
    rows, truth, insulin, food = [], [], [], []
    for index, (instant, level) in enumerate(zip(at, told, strict=True)):
        units, grams = ("2.5", "30") if index % 20 == 5 else ("", "")
        rows.append([stamp(instant), f"{level:.0f}", units, grams, ""])
        truth.append((instant, level))
        if units:
            insulin.append((instant, 2.5))
            food.append((instant, 30.0))
    rows[3][4] = "ok"
    data = table_of(draw, header, rows)
    return Drawn("half understood", "read", data, truth={"readings": truth, "insulin": insulin, "food": food})


def long_table(draw: Draw) -> Drawn:
    """A long table: glucose at a sensor's pace, and other things measured, told apart by words."""
    at, told, stamp = instants(draw, 60, 5), levels(draw, 60), stamped(draw)
    glucose = draw.word(draw.random.choice(("glucose", "sensor")))
    united = draw.random.random() < 0.5
    header = [draw.word("when"), draw.word("kind"), draw.word("value"), *([draw.word("unit")] if united else [])]
    rows, truth, insulin, food = [], [], [], []
    for index, (instant, level) in enumerate(zip(at, told, strict=True)):
        kind = glucose if united else f"{glucose} (mg/dL)"
        rows.append([stamp(instant), kind, f"{level:.0f}", *(["mg/dL"] if united else [])])
        truth.append((instant, level))
        if index % 12 == 3:
            rows.append([stamp(instant), draw.word("heart"), "88", *(["bpm"] if united else [])])
            rows.append([stamp(instant), draw.word("insulin"), "2", *([INSULIN_UNIT[draw.language]] if united else [])])
            rows.append([stamp(instant), draw.word("carbs"), "35", *(["g"] if united else [])])
            insulin.append((instant, 2.0))
            food.append((instant, 35.0 if united else None))
    data = table_of(draw, header, rows)
    return Drawn("long table", "read", data, truth={"readings": truth, "insulin": insulin, "food": food})


def long_unknown(draw: Draw) -> Drawn:
    """A long table with a word nobody has taught us: it may be anything measured."""
    drawn = long_table(draw)
    odd = draw.random.choice(("Zorb", "Quelk", "Vortin 3", "Brisome", "Fenra level"))
    text = drawn.data.decode().replace(draw.word("heart"), odd)
    if odd not in text:
        raise AssertionError("the odd word must stand in the table")
    return Drawn("long table, unknown kind", "ask", text.encode(), truth=drawn.truth)


def nothing_to_keep(draw: Draw) -> Drawn:
    """Numbers like glucose under the word of another quantity: never readings."""
    at, told, stamp = instants(draw, 250, 5), levels(draw, 250), stamped(draw)
    other = draw.random.choice(
        (
            draw.word("heart"),
            draw.word("target"),
            "Predicted glucose (mg/dL)",
            "Temperature",
            "Battery (%)",
            "Ketones (mmol/L)",
            "Cholesterol (mg/dL)",
            "Zorb",
            "Insulin on board (U)",
            "Reservoir (U)",
            "Glycémie (g/L)",
            "Value",
            "Glucose (%)",
        )
    )
    rows = [[stamp(one), f"{level:.0f}"] for one, level in zip(at, told, strict=True)]
    return Drawn(f"no glucose: {other}", "ask", table_of(draw, [draw.word("when"), other], rows))


def nutrition(draw: Draw) -> Drawn:
    """What food holds is no glucose given."""
    at, stamp = instants(draw, 12, 300), stamped(draw)
    third = draw.random.choice(
        (
            ("Sugar (g)", "Fat (g)"),
            ("Zucker (g)", "Fett (g)"),
            ("Glucose (g)", "Protein (g)"),
            ("Azúcar (g)", "Grasas (g)"),
            ("Grams", "Food"),
            ("Food weight (g)", "Fat (g)"),
        )
    )
    rows = [[stamp(one), "12", "bread" if third[1] == "Food" else "4"] for one in at]
    return Drawn(f"nutrition: {third}", "ask", table_of(draw, [draw.word("when"), *third], rows))


def insulin_log(draw: Draw) -> Drawn:
    """Rapid insulin, with long-acting insulin beside it that is not kept."""
    at, stamp = instants(draw, 20, 193), stamped(draw)
    unit = INSULIN_UNIT[draw.language]
    rows = [[stamp(one), "3.5", "12" if index % 4 == 0 else ""] for index, one in enumerate(at)]
    header = [draw.word("when"), draw.headed("insulin", unit), draw.headed("long", unit)]
    return Drawn("insulin", "read", table_of(draw, header, rows), truth={"insulin": [(one, 3.5) for one in at]})


def insulin_faults(draw: Draw) -> Drawn:
    """Insulin in other units, planned and given side by side, or of a title that says otherwise."""
    at, stamp = instants(draw, 20, 193), stamped(draw)
    rows = [[stamp(one), "3.5", "3.0"] for one in at]
    insulin = draw.word("insulin")
    header, above = draw.random.choice(
        (
            ([insulin + " (U/kg)", "Page"], ()),
            ([insulin + " (mL)", "Page"], ()),
            ([insulin, insulin + " 2"], ()),
            (["units", "Page"], ("Basal insulin",)),
            ([insulin + " Zorb", "Page"], ()),
            (["Units"], ("Langzeitinsulin",)),
            ([insulin, "Correction"], ()),
            (["Bolus planned", "Zorb"], ()),
        )
    )
    rows = [row[: 1 + len(header)] for row in rows]
    return Drawn(f"insulin: {header} {above}", "ask", table_of(draw, [draw.word("when"), *header], rows, above=above))


def food_log(draw: Draw) -> Drawn:
    at, stamp = instants(draw, 20, 251), stamped(draw)
    rows = [[stamp(one), "45"] for one in at]
    header = [draw.word("when"), draw.headed("carbs", "g")]
    return Drawn("food", "read", table_of(draw, header, rows), truth={"food": [(one, 45.0) for one in at]})


def weights(draw: Draw) -> Drawn:
    at = instants(draw, 8, 60 * 24 * 7)
    unit = draw.random.choice(("kg", "lb"))
    rows = [[f"{one:%Y-%m-%d}", f"{30 + index / 10:.1f}"] for index, one in enumerate(at)]
    factor = 0.45359237 if unit == "lb" else 1.0
    truth = [(one.date(), (30 + index / 10) * factor) for index, one in enumerate(at)]
    return Drawn(
        "weights",
        "read",
        table_of(draw, [draw.word("date"), draw.headed("weight", unit)], rows),
        truth={"weights": truth},
    )


def weight_faults(draw: Draw) -> Drawn:
    at = instants(draw, 8, 60 * 24 * 7)
    other = draw.random.choice(
        (
            draw.word("weight"),
            "School bag (kg)",
            "BMI (kg/m2)",
            "Food weight (kg)",
            "Zorb (kg)",
            "Target weight (kg)",
            "Masse (st)",
        )
    )
    rows = [[f"{one:%Y-%m-%d}", f"{30 + index / 10:.1f}"] for index, one in enumerate(at)]
    return Drawn(f"weight: {other}", "ask", table_of(draw, [draw.word("date"), other], rows))


def dose_log(draw: Draw) -> Drawn:
    """Glucose given: amounts in words, or of a source that the person has."""
    at, stamp = instants(draw, 12, 600), stamped(draw)
    if draw.random.random() < 0.5:
        rows = [[stamp(one), "3 pieces" if index % 2 else "15 ml"] for index, one in enumerate(at)]
        header = [draw.word("when"), draw.random.choice(("Given", "Amount", "Menge", "Quantité", "Cantidad"))]
        truth = [(one, 12.0 if index % 2 else 3.75) for index, one in enumerate(at)]
    else:
        rows = [[stamp(one), "12"] for one in at]
        header = [draw.word("when"), draw.headed("tablets", "g")]
        truth = [(one, 12.0) for one in at]
    return Drawn("glucose given", "read", table_of(draw, header, rows), truth={"doses": truth})


def dose_faults(draw: Draw) -> Drawn:
    at, stamp = instants(draw, 12, 600), stamped(draw)
    header = draw.random.choice((["Dose"], ["Amount"], ["Gramm"], ["Grams", "Zorb"], ["Container", "Filled", "Left"]))
    rows = [[stamp(one), *["4"] * len(header)] for one in at]
    return Drawn(f"amount of what: {header}", "ask", table_of(draw, [draw.word("when"), *header], rows))


def dose_with_levels(draw: Draw) -> Drawn:
    """A log of glucose given with the level before and after: never amounts, never lost."""
    at, stamp = instants(draw, 12, 600), stamped(draw)
    pair = draw.random.choice(
        (
            ("Zucker vorher (mg/dL)", "Zucker nachher (mg/dL)"),
            ("sg", "sg after"),
            ("Glycémie avant (mg/dL)", "Glycémie après (mg/dL)"),
            ("bg", "bg later"),
        )
    )
    rows = [[stamp(one), "62", "118", "3 pieces"] for one in at]
    return Drawn(f"doses with levels: {pair}", "ask", table_of(draw, [draw.word("when"), *pair, "Given"], rows))


def two_persons(draw: Draw) -> Drawn:
    drawn = readings(draw)
    lines = drawn.data.decode().split("\n")
    head = next(at for at, line in enumerate(lines) if draw.word("glucose") in line or draw.word("sensor") in line)
    mark = next(mark for mark in ("\t", ";", ",") if mark in lines[head])
    who = draw.random.choice(("Kid", "Kind", "Prénom", "Participant", "Name", "Zorb", "Bambino", "Dziecko", "Barn"))
    for at in range(head, len(lines)):
        if lines[at]:
            lines[at] += mark + (who if at == head else ("Ada", "Ben")[at % 2])
    return Drawn(f"two persons: {who}", "ask", "\n".join(lines).encode())


def two_persons_in_columns(draw: Draw) -> Drawn:
    at, stamp = instants(draw, 60, 5), stamped(draw)
    rows = [[stamp(one), "110", "140"] for one in at]
    word = draw.word("glucose")
    return Drawn(
        "two persons in columns",
        "ask",
        table_of(draw, [draw.word("when"), f"Ada {word} (mg/dL)", f"Ben {word} (mg/dL)"], rows),
    )


def states(draw: Draw) -> Drawn:
    at, told, stamp = instants(draw, 60, 5), levels(draw, 60), stamped(draw)
    header, good, bad = draw.random.choice(
        (
            ("Status", "ok", "deleted"),
            ("Status", "gültig", "ungültig"),
            ("Valid", "yes", "no"),
            ("Deleted", "0", "1"),
            ("Flag", "", "test"),
            ("État", "valide", "supprimé"),
            ("Zorb", "ok", "invalid"),
            ("Note", "", "control solution"),
        )
    )
    rows = [
        [stamp(one), f"{level:.0f}", bad if index % 15 == 4 else good]
        for index, (one, level) in enumerate(zip(at, told, strict=True))
    ]
    label = [draw.word("when"), draw.headed("glucose", "mg/dL"), header]
    return Drawn(f"rows marked {bad}", "ask", table_of(draw, label, rows))


def zones(draw: Draw) -> Drawn:
    """A zone stated above the table, in its header, or in a column."""
    zone, shown, label = draw.random.choice(
        (
            ("UTC", "UTC", "read"),
            ("America/New_York", "America/New_York", "read"),
            ("Asia/Tokyo", "Asia/Tokyo", "read"),
            ("Etc/GMT+5", "UTC-5", "ask"),
            ("America/New_York", "Eastern time", "ask"),
            ("America/New_York", "EST", "ask"),
            ("Asia/Kolkata", "IST", "ask"),
            ("Asia/Tokyo", "Zone 9", "ask"),
        )
    )
    at, told = instants(draw, 60, 5), levels(draw, 60)
    place = draw.random.choice(("above", "header", "column"))
    header = [draw.word("when"), draw.headed("glucose", "mg/dL")]
    above: tuple[str, ...] = ()
    if place == "above":
        above = (draw.random.choice(("Time zone: {}", "Zeitzone: {}", "Fuseau horaire: {}")).format(shown), "")
    elif place == "header":
        header[0] += f" ({shown})"
    else:
        header.append(draw.random.choice(("Zone", "Time zone", "TZ")))
    rows = [
        [f"{one.astimezone(ZoneInfo(zone)):%Y-%m-%d %H:%M}", f"{level:.0f}", *([shown] if place == "column" else [])]
        for one, level in zip(at, told, strict=True)
    ]
    truth = {"readings": list(zip(at, told, strict=True))}
    return Drawn(f"zone {shown} in {place}", label, table_of(draw, header, rows, above=above), truth=truth)


def offsets(draw: Draw) -> Drawn:
    """Offsets from UTC in a column: hours, minutes or seconds."""
    zone = ZoneInfo(draw.random.choice(("America/New_York", "Asia/Kolkata", "Europe/Berlin")))
    header, scale = draw.random.choice((("UTC offset", 60), ("offset minutes", 1), ("utc_offset_s", 1 / 60)))
    at, told, rows = instants(draw, 60, 5), levels(draw, 60), []
    for one, level in zip(at, told, strict=True):
        local = one.astimezone(zone)
        shift = (local.utcoffset() or timedelta()).total_seconds() / 60 / scale
        rows.append([f"{local:%Y-%m-%d %H:%M}", f"{shift:g}", f"{level:.0f}"])
    truth = {"readings": list(zip(at, told, strict=True))}
    return Drawn(
        f"offset in {header}",
        "read",
        table_of(draw, [draw.word("when"), header, draw.headed("glucose", "mg/dL")], rows),
        truth=truth,
    )


def units_mixed(draw: Draw) -> Drawn:
    """Rows of another unit than the header's, a header again with another unit, blank cells of units."""
    at, told, stamp = instants(draw, 60, 5), levels(draw, 60), stamped(draw)
    fault = draw.random.choice(("rows", "header", "blank", "both"))
    header = [draw.word("when"), draw.headed("glucose", "mg/dL")]
    rows = [[stamp(one), f"{level:.0f}"] for one, level in zip(at, told, strict=True)]
    if fault == "rows":
        rows[30:45] = [[time, f"{float(value) / MMOL + 8:.1f}"] for time, value in rows[30:45]]
    elif fault == "header":
        again = [header[0], header[1].replace("mg/dL", "mmol/L")]
        rows = [*rows[:30], again, *[[time, f"{float(value) / MMOL:.1f}"] for time, value in rows[30:]]]
    elif fault == "blank":
        header = [draw.word("when"), draw.word("glucose"), draw.word("unit")]
        rows = [[*row, "" if index % 7 == 3 else "mg/dL"] for index, row in enumerate(rows)]
    else:
        header[1] = f"{draw.word('glucose')} (mg/dL or mmol/L)"
    if fault == "header":  # each part stands under its own header
        told = [float(f"{level / MMOL:.1f}") * MMOL if index >= 30 else level for index, level in enumerate(told)]
        truth = {"readings": list(zip(at, told, strict=True))}
        return Drawn("units: header", "read", table_of(draw, header, rows), truth=truth)
    return Drawn(f"units: {fault}", "ask", table_of(draw, header, rows))


def times_unclear(draw: Draw) -> Drawn:
    at, told = instants(draw, 60, 300), levels(draw, 60)
    fault = draw.random.choice(("half day", "year day month", "exported on", "born", "open order", "comma"))
    sensor = draw.headed("sensor", "mg/dL")
    header, mark = [draw.word("when"), sensor], ""
    rows = [[f"{one.astimezone(BERLIN):%Y-%m-%d %H:%M}", f"{level:.0f}"] for one, level in zip(at, told, strict=True)]
    if fault == "half day":
        rows = [[f"{one.astimezone(BERLIN):%Y-%m-%d %I:%M}", row[1]] for one, row in zip(at, rows, strict=True)]
    elif fault == "year day month":
        rows = [[f"{one.astimezone(BERLIN):%Y-%d-%m %H:%M}", row[1]] for one, row in zip(at, rows, strict=True)]
    elif fault in {"exported on", "born"}:
        name = draw.random.choice(("Exported on", "Exportiert am")) if fault == "exported on" else "Date of birth"
        header = [name, draw.word("clock"), sensor]
        rows = [["2026-05-30", row[0][11:], row[1]] for row in rows]
    elif fault == "open order":
        rows = [
            [f"0{1 + index % 5}/0{1 + index // 5 % 5}/2026 1{index // 25}:00", row[1]]
            for index, row in enumerate(rows[:40])
        ]
    else:
        mark, header = ",", [draw.word("when"), draw.headed("sensor", "mmol/L").replace(",", ""), draw.word("note")]
        pairs = [f"{float(row[1]) / MMOL:.1f}".split(".") for row in rows]
        rows = [[row[0], *pair] for row, pair in zip(rows, pairs, strict=True)]
    return Drawn(f"times: {fault}", "ask", table_of(draw, header, rows, mark=mark))


def many_spellings(draw: Draw) -> Drawn:
    """Epochs, JSON shapes, words for the range, units in words."""
    at, told = instants(draw, 60, 5), levels(draw, 60)
    shape = draw.random.choice(("epoch", "epoch ms", "json", "json lines", "low word", "unit in words", "unit column"))
    truth = {"readings": list(zip(at, told, strict=True))}
    if shape.startswith("json"):
        entries = [{"time": one.isoformat(), "glucose": level, "unit": "mg/dL"} for one, level in truth["readings"]]
        text = json.dumps(entries) if shape == "json" else "\n".join(map(json.dumps, entries))
        return Drawn(shape, "read", text.encode(), ".json", truth)
    scale = 1000 if shape == "epoch ms" else 1
    when = "epoch" if shape.startswith("epoch") else draw.word("when")
    stamp: Callable[[datetime], str] = (
        (lambda one: str(int(one.timestamp() * scale))) if shape.startswith("epoch") else stamped(draw)
    )
    header = [when, draw.headed("glucose", "milligrams per decilitre" if shape == "unit in words" else "mg/dL")]
    rows = [[stamp(one), f"{level:.0f}"] for one, level in truth["readings"]]
    if shape == "unit column":
        header = [when, draw.word("glucose"), draw.word("unit")]
        rows = [[*row, "mg/dl"] for row in rows]
    if shape == "low word":
        rows[7][1] = draw.random.choice(("LO", "Low", "<40"))
        truth["readings"][7] = (at[7], 40.0)
    return Drawn(shape, "read", table_of(draw, header, rows), truth=truth)


FAMILIES: tuple[Callable[[Draw], Drawn], ...] = (
    readings,
    readings,
    half_understood,
    long_table,
    long_unknown,
    nothing_to_keep,
    nutrition,
    insulin_log,
    insulin_faults,
    food_log,
    weights,
    weight_faults,
    dose_log,
    dose_faults,
    dose_with_levels,
    two_persons,
    two_persons_in_columns,
    states,
    zones,
    offsets,
    units_mixed,
    times_unclear,
    many_spellings,
)


def drawn_tables(
    seeds: range, families: tuple[Callable[[Draw], Drawn], ...] = FAMILIES
) -> Iterator[tuple[int, str, Drawn]]:
    """Tables of all families in all languages, (seed, language, table)."""
    for seed in seeds:
        for at, family in enumerate(families):
            for language in WORDS:
                draw = Draw(seed, language, random.Random(f"{seed} {at} {language}"))
                drawn = family(draw)
                drawn.family = family.__name__
                yield seed, language, drawn


def verdict_of(drawn: Drawn, folder: Path) -> tuple[str, str]:
    """What intake makes of a table, against its truth; and why."""
    path = folder / f"table{drawn.suffix}"
    path.write_bytes(drawn.data)
    try:
        batches = read_file(path, PERSON, now_utc=NOW)
    except FileWaits as waits:
        mends = bool(waits.mend) and bool(waits.readings or waits.code in MENDED_IN_THE_FILE)
        if not mends:
            return WRONG, f"{waits.code}: its question has no answer"
        return (ASKED_RIGHTLY if drawn.label == "ask" else ASKED_NEEDLESSLY), f"{waits.code}: {waits.what}"
    except FileTrouble as trouble:
        return (ASKED_RIGHTLY if drawn.label == "ask" else ASKED_NEEDLESSLY), trouble.code
    if drawn.label == "ask":
        kept = {
            name: getattr(batches[0], name).height for name in ("readings", "fingers", "doses", "events", "weights")
        }
        asked = sum(len(batch.questions) for batch in batches)
        rows_asked = asked >= sum(kept.values()) and (asked or any(batch.quarantine for batch in batches))
        return (ASKED_RIGHTLY, "rows asked") if rows_asked else (WRONG, f"read: {kept}")
    return _compared(drawn, batches)


# Questions that only the file's owner can answer, by mending the file.
MENDED_IN_THE_FILE = frozenset(
    {
        "no_meaning",
        "no_day",
        "no_clock",
        "kind_open",
        "unit_mixed",
        "header_changes",
        "decimal_comma",
        "times_unread",
        "not_times",
        "year_day_month",
        "two_values_often",
        "nothing_found",
        "values_unread",
        "source_unstated",
        "standard_record",
        "heading_inside",
        "weight_units_mixed",
        "half_day_open",
        "insulin_open",
        "rows_change",
    }
)


def _compared(drawn: Drawn, batches: tuple) -> tuple[str, str]:
    found = {
        "readings": [row for b in batches for row in b.readings.select("at_utc", "glucose_mg_dl").rows()],
        "fingers": [row for b in batches for row in b.fingers.select("at_utc", "glucose_mg_dl").rows()],
        "doses": [row for b in batches for row in b.doses.select("taken_at_utc", "grams").rows()],
        "weights": [row for b in batches for row in b.weights.select("on", "kg").rows()],
    }
    for kind in ("insulin", "food"):
        found[kind] = [
            (at, amount)
            for b in batches
            for at, what, amount in b.events.select("at_utc", "kind", "amount").rows()
            if what == kind
        ]
    for kind, rows in found.items():
        wrong = [row for row in rows if not any(_same(row, one) for one in drawn.truth.get(kind, []))]
        if wrong:
            return WRONG, f"{kind}: {wrong[0]}, {len(wrong)} of {len(rows)}"
    bad = sum(len(batch.quarantine) for batch in batches)
    for kind, rows in drawn.truth.items():
        lost = [row for row in rows if not any(_same(row, one) for one in found[kind])]
        if lost and bad < len(lost):
            return LOST, f"{kind}: {lost[0]}, {len(lost)} of {len(rows)}"
        if lost:
            return ASKED_NEEDLESSLY, f"{kind}: {len(lost)} rows set aside"
    return RIGHT, ""


def _same(one: tuple, other: tuple) -> bool:
    if one[0] != other[0] or (one[1] is None) != (other[1] is None):
        return False
    return one[1] is None or abs(one[1] - other[1]) < 0.05
