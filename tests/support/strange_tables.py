"""Further families of tables: what strangers' tables were misread by, each with its truth. See `table_variants`."""

import json
from datetime import datetime

from support.table_variants import Draw, Drawn, instants, levels, stamped, table_of
from support.variants import BERLIN, MMOL

RELATIVES = ("Sister", "Bruder", "Frère", "Hermana", "Fratello", "Zus", "Siostra", "Syster", "Irmão")
NAMES = ("Ben", "Tomasz", "Åsa", "Inês", "Lotte")


def _rows(draw: Draw, count: int = 60, step_minutes: float = 5) -> tuple[list[list[str]], list[tuple[datetime, float]]]:
    """Rows of a time and a level in mg/dL, and their truth."""
    at, told, stamp = instants(draw, count, step_minutes), levels(draw, count), stamped(draw)
    return [[stamp(one), f"{level:.0f}"] for one, level in zip(at, told, strict=True)], list(zip(at, told, strict=True))


def heading_of_another(draw: Draw) -> Drawn:
    """A name alone among the rows: what stands below it may be another person's."""
    rows, _ = _rows(draw)
    name = draw.random.choice((*NAMES, *RELATIVES))
    rows.insert(30, draw.random.choice(([name, ""], [f"{name}:", ""], [f"- {name}", ""])))
    header = [draw.word("when"), draw.headed("glucose", "mg/dL")]
    return Drawn(f"heading {name}", "ask", table_of(draw, header, rows))


def column_of_another(draw: Draw) -> Drawn:
    """Another person in a single column: in its header, in remarks that are names, or as a second device."""
    rows, _ = _rows(draw)
    header = [draw.word("when"), draw.headed("glucose", "mg/dL")]
    fault = draw.random.choice(("header", "notes", "devices", "device names"))
    if fault == "header":
        header[1] = f"{draw.word('glucose')} {draw.random.choice(RELATIVES)} (mg/dL)"
    else:
        first, second = {"devices": ("A", "B")}.get(fault, draw.random.sample(NAMES, 2))
        header.append(draw.word("note") if fault == "notes" else draw.random.choice(("Device", "Gerät", "Transmitter")))
        rows = [[*row, second if at % 3 else first] for at, row in enumerate(rows)]
    return Drawn(f"another's {fault}", "ask", table_of(draw, header, rows))


def nothing_eaten(draw: Draw) -> Drawn:
    """Cells of meals that say that there was none are no meals."""
    rows, truth = _rows(draw)
    none = draw.random.sample(("no", "-", "0", "none", "nein", "keine", "non", "nada", "nee", "nie", "nej", "não"), 4)
    eaten, food = draw.random.choice(("Meal", "Mahlzeit", "Repas", "Comida")), []
    for at, (row, (instant, _)) in enumerate(zip(rows, truth, strict=True)):
        row.append("pasta" if at % 15 == 7 else none[at % 4])
        food += [(instant, None)] if at % 15 == 7 else []
    header = [draw.word("when"), draw.headed("sensor", "mg/dL"), eaten]
    return Drawn("nothing eaten", "read", table_of(draw, header, rows), truth={"readings": truth, "food": food})


def long_insulin_by_title(draw: Draw) -> Drawn:
    """Insulin under a title, or a key, that speaks of long-acting insulin."""
    at, stamp = instants(draw, 20, 193), stamped(draw)
    title = draw.random.choice(
        ("Long acting", "long-acting", "Langzeit", "Langwirksam", "Lente", "Lenta", "Basal", "Langwerkend", "Baza")
    )
    header = draw.random.choice(([draw.word("when"), draw.headed("insulin", "U")], ["time", "units"]))
    if draw.random.random() < 0.4:
        entries = [{"time": one.isoformat(), "units": 3.5} for one in at]
        key = draw.random.choice(("long_acting", "longActing", "basal", "long-acting insulin"))
        return Drawn(f"insulin under key {key}", "ask", json.dumps({key: entries}).encode(), ".json")
    rows = [[stamp(one), "3.5"] for one in at]
    return Drawn(f"insulin under {title}", "ask", table_of(draw, header, rows, above=(title,)))


def never_meant(draw: Draw) -> Drawn:
    """Tables that are named examples, templates, or rubbish."""
    at, told = instants(draw, 60, 5), levels(draw, 60)
    key = draw.random.choice(
        ("example", "Beispiel", "template", "Vorlage", "trash", "Papierkorb", "plantilla", "modèle")
    )
    entries = [
        {"time": one.isoformat(), "glucose": level, "unit": "mg/dL"} for one, level in zip(at, told, strict=True)
    ]
    return Drawn(f"named {key}", "ask", json.dumps({key: entries}, ensure_ascii=False).encode(), ".json")


def unit_of_another_line(draw: Draw) -> Drawn:
    """A line above the table with a unit of something else: it says nothing of the values below."""
    rows, _ = _rows(draw)
    line = draw.random.choice(
        (
            "Target: 4-10 mmol/L", "Ketones: mmol/L", "Zielbereich 70-180 mg/dL", "Keton mmol/l", "Objectif 5 mmol/L",
            "Cholesterol in mmol/L", "Low 3.9 mmol/L", "Average glucose 7.2 mmol/L", "Correction factor 2 mmol/L",
        )
    )  # fmt: skip
    if "mmol" in line.lower():
        rows = [[row[0], f"{float(row[1]) / MMOL:.1f}"] for row in rows]
    return Drawn(f"above: {line}", "ask", table_of(draw, [draw.word("when"), draw.word("sensor")], rows, above=(line,)))


def zones_in_json(draw: Draw) -> Drawn:
    """A zone, an offset or summer time told beside the entries, in a way that leaves it open."""
    at, told = instants(draw, 60, 5), levels(draw, 60)
    told_so: tuple[str, object] = draw.random.choice(
        (
            ("timezoneOffset", -300), ("timezoneOffset", 300), ("offset", -5), ("DST", True), ("dst", 1), ("tz", "EST"),
            ("isDst", "true"), ("zone", "Eastern"), ("utc_offset_minutes", -300), ("isUtc", False), ("tz", -5),
        )
    )  # fmt: skip
    entries: list[dict[str, object]] = [
        {"time": f"{one.astimezone(BERLIN):%Y-%m-%dT%H:%M:%S}", "glucose": level, "unit": "mg/dL"}
        for one, level in zip(at, told, strict=True)
    ]
    beside = draw.random.random() < 0.5 or told_so[0] in {"isUtc", "utc_offset_minutes"}
    whole = {told_so[0]: told_so[1], "entries": entries} if beside else [one | dict([told_so]) for one in entries]
    where = "beside" if beside else "within"
    return Drawn(f"{told_so[0]}={told_so[1]} {where}", "ask", json.dumps(whole).encode(), ".json")


def half_day_apart(draw: Draw) -> Drawn:
    """Am and pm in a column of their own."""
    at, told = instants(draw, 60, 5), levels(draw, 60)
    label = draw.random.choice(("AM/PM", "am pm", "ampm", "Tageszeit", ""))
    header = [draw.word("date"), draw.word("clock"), label, draw.headed("sensor", "mg/dL")]
    small = draw.random.random() < 0.5
    rows = []
    for one, level in zip(at, told, strict=True):
        local = one.astimezone(BERLIN)
        half = f"{local:%p}"
        rows.append([f"{local:%d.%m.%Y}", f"{local:%I:%M}", half.lower() if small else half, f"{level:.0f}"])
    return Drawn("half day apart", "read", table_of(draw, header, rows),
                 truth={"readings": list(zip(at, told, strict=True))})  # fmt: skip


def dotted_clock(draw: Draw) -> Drawn:
    """07.30 under a word for time."""
    at, told = instants(draw, 60, 5), levels(draw, 60)
    header = [draw.word("date"), draw.word("clock"), draw.headed("sensor", "mg/dL")]
    local = [one.astimezone(BERLIN) for one in at]
    rows = [[f"{one:%d.%m.%Y}", f"{one:%H.%M}", f"{level:.0f}"] for one, level in zip(local, told, strict=True)]
    return Drawn("dotted clock", "read", table_of(draw, header, rows, mark=draw.random.choice((";", "\t"))),
                 truth={"readings": list(zip(at, told, strict=True))})  # fmt: skip


def amounts_with_unit_in_header(draw: Draw) -> Drawn:
    """A source and an amount whose header names what is counted; pieces of what the header names."""
    at, stamp = instants(draw, 12, 300), stamped(draw)
    shape = draw.random.choice(("grams", "pieces", "mL", "mL of tablets", "header alone", "units"))
    source = "night bottle" if shape == "mL" else "tablets"
    counted = {"grams": "g", "pieces": "pieces", "mL": "mL", "mL of tablets": "mL", "units": "U"}.get(shape, "")
    header = [draw.word("when"), "Source", f"Amount ({counted})"]
    rows = [[stamp(one), source, "8"] for one in at]
    if shape == "header alone":
        header, rows = [draw.word("when"), "Traubenzucker (Stück)"], [[row[0], row[2]] for row in rows]
    grams = {"grams": 8.0, "pieces": 32.0, "mL": 2.0, "header alone": 32.0}.get(shape)
    label = "read" if grams is not None else "ask"
    return Drawn(f"amount: {shape}", label, table_of(draw, header, rows), truth={"doses": [(one, grams) for one in at]})


def weights_with_unit_beside(draw: Draw) -> Drawn:
    """Weights with a column of units, of one unit or of several; and two weights of one day."""
    at = instants(draw, 8, 60 * 24 * 7)
    shape = draw.random.choice(("kg", "lb", "mixed", "blank", "two a day"))
    unit = "lb" if shape == "lb" else "kg"
    header = [draw.word("date"), draw.word("weight"), draw.word("unit")]
    rows = [[f"{one:%Y-%m-%d}", f"{30 + index / 10:.1f}", unit] for index, one in enumerate(at)]
    truth = [(one.date(), float(row[1]) * (0.45359237 if unit == "lb" else 1.0))
             for one, row in zip(at, rows, strict=True)]  # fmt: skip
    if shape in {"mixed", "blank"}:
        rows[3][2] = "lb" if shape == "mixed" else ""
        return Drawn(f"weights: {shape}", "ask", table_of(draw, header, rows))
    if shape == "two a day":
        rows.insert(4, [rows[3][0], "36.0", unit])  # neither of the two may stand
        truth.pop(3)
    return Drawn(f"weights: {shape}", "read", table_of(draw, header, rows), truth={"weights": truth})


STRANGE_FAMILIES = (
    heading_of_another,
    column_of_another,
    nothing_eaten,
    long_insulin_by_title,
    never_meant,
    unit_of_another_line,
    zones_in_json,
    half_day_apart,
    dotted_clock,
    amounts_with_unit_in_header,
    weights_with_unit_beside,
)
