"""Texts of the sample files: each family's log as such a family would keep it."""

import json
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

import polars as pl

from gramrise.domain.bands import DEFAULT_BANDS, band_at
from gramrise.domain.findings import Inputs
from gramrise.domain.sources import Source
from gramrise.domain.units import GlucoseUnit, from_mg_dl
from gramrise.domain.words import Range
from virtual.cohort import Cohort
from virtual.people import PersonPlan
from virtual.sample_plans import PLANS

# From this day on the nights of family a stand in the plain text note by the bed, not in the table.
NOTED_FROM: Final = date(2025, 10, 20)
PREAMBLE: Final = "Familie Beispiel, Blatt 3"
MEALS: Final = ((time(5), "Frühstück"), (time(11), "Mittagessen"), (time(14, 30), "Keks"), (time(17), "Abendessen"))
LATE_FOOD: Final = "Brot"
# The school tin of family a: filled with so many, from and to, and pieces that are gone and in no log.
IN_THE_TIN: Final = 30
SCHOOL: Final = (time(8), time(15, 30))
UNLOGGED: Final = (0, 4, 0, 1, 0)
SPORT: Final = "Fußball"


def family_a_files(inputs: Inputs) -> dict[str, str]:
    """File name -> text: comma tables with offset times, weights, the counts of a tin, and the note by the bed."""
    zone = inputs.person.zone_now()
    readings = [
        f"{_stamp(at, zone)},{_english_value(glucose, kind)}"
        for at, glucose, kind in inputs.readings.select("at_utc", "glucose_mg_dl", "range").iter_rows()
    ]
    insulin = inputs.events.filter(pl.col("kind") == "insulin").select("at_utc", "amount").iter_rows()
    food = inputs.events.filter(pl.col("kind") == "food").select("at_utc", "amount").iter_rows()
    return {
        "readings.csv": _lines("time,glucose (mg/dL)", *readings),
        "glucose_given.csv": _lines("time,source,amount", *_given_lines(inputs, zone)),
        "night_notes.txt": _note(inputs, zone),
        "insulin.csv": _lines("time,units", *(f"{_stamp(at, zone)},{units:g}" for at, units in insulin)),
        "food.csv": _lines("time,carbohydrate_g", *(f"{_stamp(at, zone)},{grams:g}" for at, grams in food)),
        "weights.csv": _lines(
            "time,kg", *(f"{on.isoformat()},{kg:.1f}" for on, kg in inputs.person.weights_kg.entries)
        ),
        "school_tin.csv": _lines("container,source,from,to,filled,left", *_tin_lines(inputs, zone)),
    }


def _tin_lines(inputs: Inputs, zone: ZoneInfo) -> list[str]:
    """A week of school days: the tin is filled in the morning and counted in the afternoon. Now and then a few more
    pieces are gone than anybody wrote down."""
    last = inputs.readings["at_utc"][-1].astimezone(zone).date()
    days = [day for back in range(14, 0, -1) if (day := last - timedelta(days=back)).weekday() < 5][-len(UNLOGGED) :]
    lines = []
    for day, unlogged in zip(days, UNLOGGED, strict=True):
        begin, end = (datetime.combine(day, at, zone).astimezone(UTC) for at in SCHOOL)
        inside = (pl.col("taken_at_utc") >= begin) & (pl.col("taken_at_utc") < end) & (pl.col("amount_unit") == "piece")
        logged = round(inputs.doses.filter(inside)["amount"].sum())
        left = IN_THE_TIN - logged - unlogged
        lines.append(f"school tin,candy,{_stamp(begin, zone)},{_stamp(end, zone)},{IN_THE_TIN},{left}")
    return lines


def family_b_files(inputs: Inputs) -> dict[str, str]:
    """File name -> text: one sheet of semicolons, local times without offset, amounts and meals among the remarks."""
    zone = inputs.person.zone_now()
    rows: list[tuple[datetime, str, str]] = []
    for at, glucose, kind in inputs.readings.select("at_utc", "glucose_mg_dl", "range").iter_rows():
        rows.append((at, _german_value(glucose, kind), ""))
    for at, amount, unit in inputs.doses.select("taken_at_utc", "amount", "amount_unit").iter_rows():
        rows.append((at, "", f"{amount:g} Stück" if unit == "piece" else f"{amount:g} ml"))
    for at, kind in inputs.events.select("at_utc", "kind").iter_rows():
        if kind in ("food", "activity"):
            rows.append((at, "", SPORT if kind == "activity" else _meal(at.astimezone(zone).time())))
    rows.sort(key=lambda row: (row[0], row[1] == "", row[2]))
    lines = [f"{at.astimezone(zone):%d.%m.%Y;%H:%M};{value};{remark}" for at, value, remark in rows]
    return {"blatt3.csv": _lines(PREAMBLE, "", "Tag;Uhr;Zucker (mmol/L);Bemerkung", *lines)}


def truth_json(seed: int, lived: dict[str, Cohort]) -> str:
    """The true factors of each person per band: median over all treatments, by twins; mg/dL per g."""
    persons: dict[str, Any] = {}
    for one in lived.values():
        for row in one.truth_bands.iter_rows(named=True):
            persons.setdefault(row["person_id"], {})[row["band"]] = {
                "true_factor_mg_dl_per_g": round(row["true_factor_mg_dl_per_g"], 2),
                "treatments": row["treatments_n"],
                "treatments_logged": row["logged_n"],
            }
    return json.dumps({"invented": True, "seed": seed, "persons": persons}, indent=2, ensure_ascii=False) + "\n"


def people_toml(entries: tuple[tuple[str, PersonPlan, Inputs, tuple[str, ...]], ...]) -> str:
    """Who the families are, for the demo: (folder, plan, inputs, files in the order of import)."""
    blocks = ["# The invented families of this folder. No such persons exist; addresses lead nowhere."]
    for folder, plan, inputs, files in entries:
        german = plan.unit is GlucoseUnit.MMOL_L
        entered = [(on, kg) for on, kg in inputs.person.weights_kg.entries]
        blocks.append(
            "\n".join(
                [
                    "[[person]]",
                    f'id = "{plan.person_id}"',
                    f'name = "{plan.name}"',
                    f"born = {plan.born.isoformat()}",
                    f'sex = "{plan.sex}"',
                    f'zone = "{plan.zone.key}"',
                    f'unit = "{plan.unit.value}"',
                    f'language = "{"de" if german else "en"}"',
                    f'delivery = "{plan.delivery.value}"',
                    f"since = {entered[0][0].isoformat()}  # from when zone, delivery and sources hold",
                    f'folder = "{folder}"',
                    f"files = [{', '.join(json.dumps(name) for name in files)}]",
                    "weights = ["
                    + ", ".join(f"{{ on = {on.isoformat()}, kg = {kg:.1f} }}" for on, kg in entered)
                    + "]",
                    f'recipients = [{{ address = "{plan.person_id}.family@example.org", role = "parent" }}, '
                    f'{{ address = "clinic@example.org", role = "clinic" }}]',
                    *(_source_toml(source) for source in (plan.pieces, plan.liquid)),
                    PLANS[plan.person_id],
                ]
            )
        )
    return "\n\n".join(blocks) + "\n"


def _source_toml(source: Source) -> str:
    per = (
        f"grams_per_piece = {source.grams_per_piece}"
        if source.grams_per_piece is not None
        else f"grams_per_ml = {source.grams_per_ml}"
    )
    names = ", ".join(json.dumps(name, ensure_ascii=False) for name in source.other_names)
    return (
        f'\n[[person.sources]]\nname = "{source.name}"\nform = "{source.form.value}"\n{per}\n'
        f'stated_as = "{source.stated_as.value}"\nsealed = {str(source.sealed).lower()}\nother_names = [{names}]'
    )


def _lines(*lines: str) -> str:
    return "\n".join(lines) + "\n"


def _stamp(at: datetime, zone: ZoneInfo) -> str:
    return at.astimezone(zone).isoformat(timespec="minutes")


def _english_value(glucose: float, kind: str) -> str:
    return {Range.BELOW: "below range", Range.ABOVE: "above range"}.get(Range(kind), f"{glucose:.0f}")


def _german_value(glucose: float, kind: str) -> str:
    value = f"{from_mg_dl(glucose, GlucoseUnit.MMOL_L):.1f}".replace(".", ",")
    return {Range.BELOW: "unter Messbereich", Range.ABOVE: "über Messbereich"}.get(Range(kind), value)


def _amount(amount: float, unit: str) -> str:
    if unit != "piece":
        return f"{amount:g} mL"
    return f"{amount:g} piece" if amount == 1 else f"{amount:g} pieces"


def _noted(at: datetime, zone: ZoneInfo) -> bool:
    return at.astimezone(zone).date() >= NOTED_FROM and band_at(at, zone, DEFAULT_BANDS).name == "overnight"


def _given_lines(inputs: Inputs, zone: ZoneInfo) -> list[str]:
    doses = inputs.doses.select("taken_at_utc", "source", "amount", "amount_unit").iter_rows()
    return [
        f"{_stamp(at, zone)},{source},{_amount(amount, unit)}"
        for at, source, amount, unit in doses
        if not _noted(at, zone)
    ]


def _note(inputs: Inputs, zone: ZoneInfo) -> str:
    """A date line for each local day, then one line an entry: 02:10 3 pieces."""
    lines: list[str] = []
    last: date | None = None
    for at, amount, unit in inputs.doses.select("taken_at_utc", "amount", "amount_unit").iter_rows():
        if not _noted(at, zone):
            continue
        local = at.astimezone(zone)
        if local.date() != last:
            lines += ["", local.date().isoformat()] if lines else [local.date().isoformat()]
            last = local.date()
        lines.append(f"{local:%H:%M} {_amount(amount, unit)}")
    return _lines(*lines)


def _meal(at: time) -> str:
    named = [name for start, name in MEALS if at >= start and at < time(20)]
    return named[-1] if named else LATE_FOOD
