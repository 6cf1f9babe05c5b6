"""Tables by someone who had read intake: each a header and a row or rows in turn, with what must come of it.

In a row {t} is the local time, {d} and {c} its day and clock, {u} the same instant in UTC, {g} the level in mg/dL,
{m} in mmol/L. `truth` names what is kept of the row at each place, `kind` or `kind=number`, or 'nothing' of any; where
it is empty the table must wait.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from support.table_variants import Drawn
from support.variants import BERLIN, MMOL

_START = datetime(2026, 3, 13, 6, 0, tzinfo=BERLIN)
_AWAY = ZoneInfo("Pacific/Auckland")
_KINDS = {"readings", "fingers", "doses", "insulin", "food"}


@dataclass(frozen=True)
class Case:
    """One table: '' as truth where it must be asked about or held."""

    name: str
    header: str
    rows: tuple[str, ...] | str
    truth: tuple[str, ...] | str = ""
    count: int = 40
    step_minutes: int = 5
    above: str = ""
    below: str = ""
    suffix: str = ".csv"

    def drawn(self) -> Drawn:
        """The table as bytes, with its truth as numbers."""
        templates = (self.rows,) if isinstance(self.rows, str) else self.rows
        kept = (self.truth,) if isinstance(self.truth, str) else self.truth
        lines, truth = [], {}
        for at in range(self.count):
            local, level = _START + timedelta(minutes=self.step_minutes * at), 95 + (at * 7) % 60
            cells = _cells(local, at, level)
            lines.append(templates[at % len(templates)].format_map(cells))
            for told in filter(_is_kept, kept[at % len(kept)].split("+")):
                kind, _, number = told.partition("=")
                assert kind in _KINDS, kind
                value = (
                    float(number)
                    if number
                    else round(level / MMOL, 1) * MMOL
                    if "{g}" not in templates[at % len(templates)]
                    else level
                )
                truth.setdefault(kind, []).append((local.astimezone(UTC), value))
        return Drawn(self.name, "read" if any(kept) else "ask", self._text(lines).encode(), self.suffix, truth)

    def _text(self, lines: list[str]) -> str:
        if self.suffix == ".json":
            return self.above + self.header + ",".join(lines) + self.below
        return "\n".join([*filter(None, [self.above, self.header]), *lines, *filter(None, [self.below]), ""])


def _is_kept(told: str) -> bool:
    return told not in {"", "nothing"}


def _cells(local: datetime, at: int, level: int) -> dict[str, object]:
    mmol = f"{level / MMOL:.1f}"
    return {
        "t": f"{local:%Y-%m-%d %H:%M}", "d": f"{local:%Y-%m-%d}", "c": f"{local:%H:%M}", "g": level, "m": mmol,
        "mc": mmol.replace(".", ","), "u": f"{local.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}", "i": at,
        "de": f"{local:%d.%m.%Y}", "us": f"{local:%m/%d/%Y}", "h": f"{local:%I:%M}", "p": f"{local:%p}",
        "gmt": f"{local.astimezone(UTC):%Y-%m-%d %H:%M}", "away": f"{local.astimezone(_AWAY):%Y-%m-%d %H:%M}",
        "z": local.isoformat(), "n": 60 + at % 40, "e": int(local.timestamp()),
        "end": f"{local + timedelta(minutes=5):%Y-%m-%d %H:%M}",
    }  # fmt: skip


_MG_DL = '{{"value":{g},"unit":"mg/dL","system":"http://unitsofmeasure.org","code":"mg/dL"}}'


def _fhir(
    name: str,
    *,
    truth: str = "",
    status: str = "final",
    code: str = "99504-3",
    value: str = _MG_DL,
    instant: str = '"effectiveDateTime":"{z}"',
    more: str = "",
) -> Case:
    """A bundle of observations of glucose, each with the same oddity."""
    row = (
        '{{"resource":{{"resourceType":"Observation","id":"o{i}","status":"' + status + '","code":{{"coding":[{{'
        '"system":"http://loinc.org","code":"' + code + '"}}]}},"subject":{{"reference":"Patient/P1"}},'
        + instant + ',"valueQuantity":' + value + more + "}}}}"
    )  # fmt: skip
    head = '{"resourceType":"Bundle","type":"collection","entry":['
    return Case(f"record {name}", head, row, truth, below="]}", suffix=".json")


CASES = (
    # Another quantity, or another's, beside or in place of glucose.
    Case("estimated lab value", "Time;eA1c glucose (mg/dL)", "{t};{g}"),
    Case("simulated", "Time;Simulated glucose (mg/dL)", "{t};{g}"),
    Case("smoothed beside raw", "Time;Raw glucose (mg/dL);Smoothed glucose (mg/dL)", "{t};{g};{n}"),
    Case("alarm limits", "Time;Low alarm (mg/dL);High alarm (mg/dL)", "{t};70;250"),
    Case("yesterday's", "Time;Glucose yesterday (mg/dL)", "{t};{g}"),
    Case("in 30 minutes", "Time;Glucose in 30 min (mg/dL)", "{t};{g}"),
    Case("vorhergesagt", "Zeit;Glukose vorhergesagt (mg/dL)", "{t};{g}"),
    Case("glycémie cible", "Heure;Date;Glycémie cible (mg/dL)", "{c};{d};{g}"),
    Case("glucemia objetivo", "Fecha;Hora;Glucemia objetivo (mg/dL)", "{d};{c};{g}"),
    Case("glicemia prevista", "Data;Ora;Glicemia prevista (mg/dL)", "{d};{c};{g}"),
    Case("streefwaarde", "Datum;Tijd;Streefwaarde glucose (mmol/L)", "{d};{c};{m}"),
    Case("cukier docelowy", "Data;Godzina;Cukier docelowy (mg/dL)", "{d};{c};{g}"),
    Case("målvärde", "Datum;Tid;Målvärde glukos (mmol/L)", "{d};{c};{m}"),
    Case("målværdi dansk", "Dato;Tid;Målværdi glukose (mmol/L)", "{d};{c};{m}"),
    Case("variance", "Time;Glucose SD (mg/dL)", "{t};{g}"),
    Case("hourly mean", "Time;Mean glucose (mg/dL)", "{t};{g}", step_minutes=60),
    Case("median", "Time;Median glucose (mg/dL)", "{t};{g}", step_minutes=60),
    Case("percentile", "Time;P50 glucose (mg/dL)", "{t};{g}", step_minutes=60),
    Case("minimum", "Time;Min glucose (mg/dL);Max glucose (mg/dL)", "{t};{g};{n}"),
    Case("of the mother", "Time;Mother's glucose (mg/dL)", "{t};{g}"),
    Case("of the dog", "Time;Dog glucose (mg/dL)", "{t};{g}"),
    Case("of the twin", "Time;Glucose twin (mg/dL)", "{t};{g}"),
    Case("control solution", "Time;Control solution glucose (mg/dL)", "{t};{g}"),
    Case("Kontrolllösung", "Zeit;Kontrolllösung (mg/dL)", "{t};{g}"),
    Case("urine", "Time;Urine glucose (mg/dL)", "{t};{g}"),
    Case("cerebrospinal", "Time;CSF glucose (mg/dL)", "{t};{g}"),
    Case("lactate", "Time;Lactate (mmol/L)", "{t};{m}"),
    Case("triglycerides", "Time;Triglycerides (mg/dL)", "{t};{g}"),
    Case("fructose", "Time;Fructose (mg/dL)", "{t};{g}"),
    Case("potassium", "Time;Potassium (mmol/L)", "{t};{m}"),
    Case("difference of two meters", "Time;Glucose difference (mg/dL)", "{t};{g}"),
    Case("glucose of a drink", "Time;Glucose in drink (g)", "{t};12", step_minutes=200),
    Case("glucose per 100 ml", "Time;Glucose per 100 mL (g)", "{t};12", step_minutes=200),
    Case("glucose left in the tin", "Time;Glucose left (g)", "{t};12", step_minutes=200),
    Case("glucose bought", "Date;Time;Glucose bought (g)", "{d};{c};100", step_minutes=200),
    Case("glucose planned", "Time;Glucose to give (g)", "{t};8", step_minutes=200),
    Case("glucose not given", "Time;Glucose refused (g)", "{t};8", step_minutes=200),
    Case("glucose of the sister", "Time;Sister glucose given (g)", "{t};8", step_minutes=200),
    Case("milligrams", "Time;Glucose given (mg)", "{t};8000", step_minutes=200),
    Case("ounces", "Time;Glucose given (oz)", "{t};0.3", step_minutes=200),
    Case("kilograms", "Time;Glucose given (kg)", "{t};0.008", step_minutes=200),
    Case("exchange units", "Time;Glucose given (BE)", "{t};0.8", step_minutes=200),
    Case("glucose a kilogram", "Time;Glucose given (g/kg)", "{t};0.3", step_minutes=200),
    Case("glucose an hour", "Time;Glucose infusion (g/h)", "{t};3", step_minutes=200),
    Case("dextrose solution percent", "Time;Dextrose 10% (mL)", "{t};40", step_minutes=200),
    Case("insulin suggested", "Time;Suggested bolus (U)", "{t};2.5", step_minutes=200),
    Case("insulin left", "Time;Insulin remaining (U)", "{t};125", step_minutes=200),
    Case("insulin a day", "Date;Time;Total daily insulin (U)", "{d};{c};25", step_minutes=1440),
    Case("insulin a day, German", "Datum;Uhrzeit;Tagesdosis Insulin (IE)", "{de};{c};25", step_minutes=1440),
    Case("insulin hundredths", "Time;Bolus (0.01 U)", "{t};250", step_minutes=200),
    Case("insulin milliunits", "Time;Bolus (mU)", "{t};2500", step_minutes=200),
    Case("mixed insulin", "Time;Mixed insulin 30/70 (U)", "{t};12", step_minutes=400),
    Case("NPH insulin", "Time;NPH (U)", "{t};12", step_minutes=400),
    Case("carbs planned", "Time;Planned carbs (g)", "{t};45", step_minutes=200),
    Case("carbs ratio", "Time;Carb ratio (g/U)", "{t};10", step_minutes=200),
    Case("carbs on board", "Time;Carbs on board (g)", "{t};10"),
    Case("protein", "Time;Protein (g)", "{t};10", step_minutes=200),
    Case("fibre", "Time;Fibre (g)", "{t};10", step_minutes=200),
    # Kinds of rows that are not understood, or not of what happened.
    Case("kind with a stray word", "Time;Parameter;Value;Unit", ("{t};glucose;{g};mg/dL", "{t};wobble;{n};mg/dL")),
    Case("kind calibration limit", "Time;Type;Value", ("{t};glucose mg/dL;{g}", "{t};limit mg/dL;180"),
         ("readings", "")),
    Case("kind numbered", "Time;Type;Glucose (mg/dL)", ("{t};0;{g}", "{t};6;{g}")),
    Case("record codes", "Time;Code;Glucose (mg/dL)", ("{t};S;{g}", "{t};K;{n}")),
    Case("status suspicious", "Time;Glucose (mg/dL);Status", ("{t};{g};OK", "{t};{g};suspicious")),
    Case("quality poor", "Time;Glucose (mg/dL);Quality", ("{t};{g};good", "{t};{n};poor")),
    Case("valid no", "Time;Glucose (mg/dL);Valid", ("{t};{g};yes", "{t};{g};no")),
    Case("gültig nein", "Zeit;Glukose (mg/dL);Gültig", ("{t};{g};ja", "{t};{g};nein")),
    Case("voided", "Time;Glucose given (g);Voided", ("{t};8;0", "{t};8;1"), step_minutes=200),
    Case("annulé", "Date;Heure;Bolus (U);Annulé", ("{d};{c};2;non", "{d};{c};2;oui"), step_minutes=200),
    Case("simulation flag", "Time;Glucose (mg/dL);Simulated", ("{t};{g};false", "{t};{n};true")),
    Case("imputed flag", "Time;Glucose (mg/dL);Imputed", ("{t};{g};0", "{t};{n};1")),
    Case("interpolated flag", "Time;Glucose (mg/dL);Interpolated", ("{t};{g};0", "{t};{n};1")),
    Case("manual or automatic", "Time;Glucose (mg/dL);Entry", ("{t};{g};auto", "{t};{n};manual")),
    Case("patient numbers", "Time;Glucose (mg/dL);Subject", ("{t};{g};101", "{t};{n};102")),
    Case("initials", "Time;Glucose (mg/dL);Initials", ("{t};{g};RB", "{t};{n};LM")),
    Case("barn dansk", "Tid;Blodsukker (mmol/L);Barn", ("{t};{m};Ida", "{t};{m};Bo")),
    Case("dziecko", "Czas;Glukoza (mg/dL);Dziecko", ("{t};{g};Ola", "{t};{n};Jan")),
    Case("bed", "Time;Glucose (mg/dL);Bed", ("{t};{g};3", "{t};{n};4")),
    Case("room", "Time;Glucose (mg/dL);Room", ("{t};{g};3", "{t};{g};4"), "readings"),
    Case("account", "Time;Glucose (mg/dL);Account", ("{t};{g};aa1", "{t};{n};bb2")),
    Case("medium", "Time;Glucose (mg/dL);Specimen", ("{t};{g};blood", "{t};{n};urine")),
    # Zones, clocks, days.
    Case("header GMT", "Time (GMT);Glucose (mg/dL)", "{gmt};{g}", "readings"),
    Case("zone of a holiday", "Time;Glucose (mg/dL)", "{away};{g}", "readings", above="Time zone: Pacific/Auckland"),
    Case("server time", "Server time;Glucose (mg/dL)", "{t};{g}"),
    Case("received at", "Received at;Glucose (mg/dL)", "{t};{g}"),
    Case("uploaded at", "Uploaded;Glucose (mg/dL)", "{t};{g}"),
    Case("minutes since start", "Minutes since start;Glucose (mg/dL)", "{i};{g}"),
    Case("two clocks", "Device time;Real time;Glucose (mg/dL)", "{t};{end};{g}"),
    Case("twelve hours bare", "Date;Time;Glucose (mg/dL)", "{us};{h};{g}", count=200),
    Case("half day", "Date;Time;Glucose (mg/dL)", "{us};{h} {p};{g}", "readings", 200),
    Case("summer time flag", "Time;Glucose (mg/dL);Summer time", "{t};{g};yes"),
    Case("zone beside", "Time;Zone;Glucose (mg/dL)", "{t};Central;{g}"),
    Case("clock wrong", "Time;Glucose (mg/dL)", "{t};{g}", above="Note: the meter's clock was one hour slow"),
    Case("footer zone", "Time;Glucose (mg/dL)", "{t};{g}", below="All times are New York time"),
    Case("days unnamed", "Clock;Glucose (mg/dL)", "{c};{g}"),
    # Units.
    Case("micromole", "Time;Glucose (µmol/L)", "{t};{g}"),
    Case("per 100 ml", "Time;Glucose (mg/100 mL)", "{t};{g}", "readings"),
    Case("g per l", "Time;Glucose (g/L)", "{t};1.{n}"),
    Case("both units told", "Time;Glucose (mg/dL)", "{t};{g}", above="Unit: mmol/L"),
    Case("units by row", "Time;Glucose;Unit", ("{t};{g};mg/dL", "{t};{m};mmol/L"), "readings"),
    Case("unit says other", "Time;Glucose (mg/dL);Unit", "{t};{m};mmol/L"),
    Case("plasma or whole", "Time;Glucose whole blood (mg/dL)", "{t};{g}"),
    Case("header changes", "Time;Glucose (mg/dL)", "{t};{g}", below="Time;Glucose\n2026-03-14 09:00;5.5"),
    Case("second person below", "Time;Glucose (mg/dL)", "{t};{g}", below="Patient: Tim\n2026-03-14 09:00;155"),
    Case("deleted below", "Time;Glucose (mg/dL)", "{t};{g}", below="Deleted entries\n2026-03-14 09:00;155"),
    Case("forecast below", "Time;Glucose (mg/dL)", "{t};{g}", below="Forecast\n2026-03-14 09:00;155"),
    # Read at once.
    Case("danish", "Dato;Tid;Blodsukker (mmol/L)", "{d};{c};{mc}", "readings", 40),
    Case("danish sensor", "Dato;Klokkeslæt;Sensorglukose (mmol/L)", "{d};{c};{mc}", "readings"),
    Case("danish insulin", "Dato;Tid;Hurtig insulin (E)", "{d};{c};2,5", "insulin=2.5", 20, 200),
    Case("danish food", "Dato;Tid;Kulhydrater (g)", "{d};{c};30", "food=30", 20, 200),
    Case("danish tablets", "Dato;Tid;Druesukker (g)", "{d};{c};8", "doses=8", 20, 200),
    Case("dutch", "Datum;Tijd;Sensorglucose (mmol/L)", "{de};{c};{mc}", "readings"),
    Case("polish", "Data;Godzina;Glukoza z sensora (mg/dL)", "{de};{c};{g}", "readings"),
    Case("swedish", "Datum;Klockslag;Sensorglukos (mmol/L)", "{d};{c};{mc}", "readings"),
    Case("portuguese", "Data;Hora;Glicose do sensor (mg/dL)", "{d};{c};{g}", "readings"),
    Case("italian", "Data;Ora;Glicemia (mg/dL)", "{de};{c};{g}", "readings"),
    Case("wide", "Time;Sensor glucose (mg/dL);Bolus (U);Carbs (g)", "{t};{g};1.5;20", "readings+insulin=1.5+food=20",
         20, 200),
    Case("long", "Time;Type;Value;Unit", ("{t};sensor glucose;{g};mg/dL", "{t};carbohydrate;20;g"),
         ("readings", "food=20"), 20, 200),
    Case("utc", "Time;Glucose (mg/dL)", "{u};{g}", "readings"),
    Case("epoch", "epoch;sensor glucose (mg/dL)", "{e};{g}", "readings"),
    Case("offset", "Timestamp;CGM (mg/dL)", "{z};{g}", "readings"),
    # JSON.
    Case("json plain", '{"unit":"mg/dL","rows":[', '{{"time":"{z}","glucose":{g}}}', "readings",
         below="]}", suffix=".json"),
    Case("json forecast", '{"predictions":[', '{{"time":"{z}","glucose":{g},"unit":"mg/dL"}}', below="]}",
         suffix=".json"),
    Case("json sibling", '{"brother":[', '{{"time":"{z}","glucose":{g},"unit":"mg/dL"}}', below="]}", suffix=".json"),
    Case("json deleted", "[", '{{"time":"{z}","glucose":{g},"unit":"mg/dL","deleted":true}}', below="]",
         suffix=".json"),
    Case("json removed at", "[", '{{"time":"{z}","glucose":{g},"unit":"mg/dL","removedAt":"{z}"}}', below="]",
         suffix=".json"),
    Case("json simulated beside", '{"simulated":true,"entries":[', '{{"time":"{z}","glucose":{g},"unit":"mg/dL"}}',
         below="]}", suffix=".json"),
    Case("json target nested", "[", '{{"time":"{z}","target":{{"glucose":{g},"unit":"mg/dL"}}}}', below="]",
         suffix=".json"),
    # Further words, shapes and places.
    Case("server hour", "Date;Server hour;Glucose (mg/dL)", "{d};{c};{g}"),
    Case("cloud time", "Cloud time;Glucose (mg/dL)", "{t};{g}"),
    Case("expected time", "Expected time;Glucose given (g)", "{t};8", step_minutes=200),
    Case("planned time", "Planned for;Glucose given (g)", "{t};8", step_minutes=200),
    Case("reminder time", "Reminder time;Glucose given (g)", "{t};8", step_minutes=200),
    Case("Uhr ging vor", "Zeit;Sensorglukose (mg/dL)", "{t};{g}", above="Die Uhr ging 20 Minuten vor"),
    Case("twins in a title", "Time;Glucose (mg/dL)", "{t};{g}", above="Twin"),
    Case("frère au-dessus", "Date;Heure;Glycémie (mg/dL)", "{d};{c};{g}", above="Frère"),
    Case("target above", "Time;Glucose (mg/dL)", "{t};{g}", above="Target glucose"),
    Case("averages above", "Time;Glucose (mg/dL)", "{t};{g}", above="Average glucose"),
    Case("patient above", "Time;Glucose (mg/dL)", "{t};{g}", "readings", above="Patient: one child"),
    Case("family above", "Time;Glucose (mg/dL)", "{t};{g}", "readings", above="Kept by the family"),
    Case("json friend deep", '{"data":{"friend":{"cgm":[', '{{"time":"{z}","glucose":{g},"unit":"mg/dL"}}',
         below="]}}}", suffix=".json"),
    Case("json person beside", '{"person":"Tim","cgm":[', '{{"time":"{z}","glucose":{g},"unit":"mg/dL"}}',
         "readings", below="]}", suffix=".json"),
    Case("json unit beside contradicts", '{"unit":"mmol/L","cgm":[', '{{"time":"{z}","glucose":{g}}}', below="]}",
         suffix=".json"),
    Case("json targets", '{"targets":[', '{{"time":"{z}","glucose":{g},"unit":"mg/dL"}}', below="]}", suffix=".json"),
    Case("json averages", '{"averages":[', '{{"time":"{z}","glucose":{g},"unit":"mg/dL"}}', below="]}",
         suffix=".json"),
    Case("json suggested", '{"suggestions":[', '{{"time":"{z}","insulin_units":2}}', below="]}", suffix=".json",
         step_minutes=200),
    Case("json trashed", '{"recycle bin":[', '{{"time":"{z}","glucose":{g},"unit":"mg/dL"}}', below="]}",
         suffix=".json"),
    Case("json archived drafts", '{"drafts":[', '{{"time":"{z}","glucose_given_g":8}}', below="]}", suffix=".json",
         step_minutes=200),
    Case("json state within", "[", '{{"time":"{z}","glucose":{g},"unit":"mg/dL","state":"retracted"}}', below="]",
         suffix=".json"),
    Case("json forecast flag", "[", '{{"time":"{z}","glucose":{g},"unit":"mg/dL","isForecast":true}}', below="]",
         suffix=".json"),
    Case("json nested other", "[", '{{"time":"{z}","mother":{{"glucose":{g},"unit":"mg/dL"}}}}', below="]",
         suffix=".json"),
    Case("json nested prediction", "[", '{{"time":"{z}","predicted":{{"glucose":{g},"unit":"mg/dL"}}}}', below="]",
         suffix=".json"),
    Case("glucose gel of a strength", "Time;Glucose gel 40% (g)", "{t};25", step_minutes=200),
    Case("saft", "Datum;Uhrzeit;Saft (mL)", "{de};{c};100", step_minutes=200),
    Case("glukose in percent", "Zeit;Glukose (%)", "{t};12", step_minutes=200),
    Case("dextrose grams", "Time;Dextrose (g)", "{t};8", "doses=8", 20, 200),
    Case("dextrose grams planned", "Time;Dextrose (g);Done", ("{t};8;yes", "{t};8;no"), step_minutes=200),
    Case("amount with question mark", "Time;Glucose given (g)", "{t};8?", step_minutes=200),
    Case("amount in a range", "Time;Glucose given (g)", "{t};4-8", step_minutes=200),
    Case("amount negative", "Time;Glucose given (g)", "{t};-8", step_minutes=200),
    Case("insulin negative", "Time;Bolus (U)", "{t};-2", step_minutes=200),
    Case("insulin of the pen's cartridge", "Time;Cartridge (U)", "{t};300", step_minutes=200),
    Case("priming", "Time;Priming insulin (U)", "{t};2", step_minutes=200),
    Case("air shot", "Time;Bolus (U);Purpose", ("{t};2;meal", "{t};2;prime"), step_minutes=200),
    Case("insulin pens by name", "Time;Insulin (U);Pen", ("{t};2;blue", "{t};9;green"), step_minutes=200),
    Case("insulin kind", "Time;Insulin (U);Kind", ("{t};2;rapid", "{t};9;long-acting"), step_minutes=200),
    Case("insulina lenta", "Fecha;Hora;Insulina lenta (U)", "{d};{c};9", step_minutes=200),
    Case("insulina ultralenta", "Fecha;Hora;Insulina ultralenta (U)", "{d};{c};9", step_minutes=200),
    Case("nattinsulin", "Datum;Klockslag;Nattinsulin (E)", "{d};{c};9", step_minutes=200),
    Case("Verzögerungsinsulin", "Datum;Uhrzeit;Verzögerungsinsulin (IE)", "{de};{c};9", step_minutes=200),
    Case("insulina basale", "Data;Ora;Insulina basale (U)", "{de};{c};9", step_minutes=200),
    Case("weight in stones", "Date;Weight (st)", "{d};5", step_minutes=20000, count=8),
    Case("weight of the bag", "Date;Bag weight (kg)", "{d};5", step_minutes=20000, count=8),
    Case("weight for the age", "Date;Ideal weight (kg)", "{d};30", step_minutes=20000, count=8),
    Case("lean weight", "Date;Lean body mass (kg)", "{d};30", step_minutes=20000, count=8),
    Case("weight in grams", "Date;Weight (g)", "{d};30000", step_minutes=20000, count=8),
    # Diaries, footers, headings, standards' neighbours.
    Case("status measured", "Time;Glucose (mg/dL);Status", "{t};{g};measured", "readings"),
    Case("status of an unknown word", "Time;Glucose (mg/dL);Status", "{t};{g};superseded"),
    Case("état", "Date;Heure;Glycémie (mg/dL);État", "{d};{c};{g};périmé"),
    Case("signed off", "Time;Glucose given (g);Signed", ("{t};8;yes", "{t};8;no"), step_minutes=200),
    Case("given or only offered", "Time;Glucose (g);Outcome", ("{t};8;swallowed", "{t};8;offered"), step_minutes=200),
    Case("glucose for whom", "Time;Glucose given (g);For", ("{t};8;Tim", "{t};8;Ida"), step_minutes=200),
    Case("remark of a sister", "Time;Glucose given (g);Note", ("{t};8;", "{t};8;was for her sister"),
         ("doses=8", ""), 20, 200),
    Case("is deleted", "Time;Glucose (mg/dL);isDeleted", ("{t};{g};false", "{t};{g};true")),
    Case("is valid", "Time;Glucose (mg/dL);isValid", ("{t};{g};true", "{t};{g};false")),
    Case("deleted at", "Time;Glucose (mg/dL);Deleted at", ("{t};{g};", "{t};{g};{end}")),
    Case("replaced by", "Id;Time;Glucose (mg/dL);Replaced by", ("{i};{t};{g};", "{i};{t};{g};9{i}")),
    Case("revision", "Time;Glucose given (g);Revision", ("{t};8;1", "{t};8;2"), step_minutes=200),
    Case("probability", "Time;Glucose (mg/dL);Probability", "{t};{g};0.8"),
    Case("horizon", "Time;Glucose (mg/dL);Horizon (min)", "{t};{g};30"),
    Case("scenario", "Time;Glucose (mg/dL);Scenario", ("{t};{g};base", "{t};{n};late meal")),
    Case("two sensors", "Time;Sensor 1 glucose (mg/dL);Sensor 2 glucose (mg/dL)", "{t};{g};{n}"),
    Case("left and right", "Time;Glucose left arm (mg/dL);Glucose right arm (mg/dL)", "{t};{g};{n}"),
    Case("two children by number", "Time;Glucose 1 (mg/dL);Glucose 2 (mg/dL)", "{t};{g};{n}"),
    Case("two units agree", "Time;Sensor glucose (mg/dL);Sensor glucose (mmol/L)", "{t};{g};{m}", "readings"),
    Case("two units apart", "Time;Sensor glucose (mg/dL);Sensor glucose (mmol/L)", "{t};{g};9.9"),
    Case("thousandths", "Time;Glucose (mg/dL)", "{t};{g},000"),
    Case("hours of a shift", "Date;Shift;Glucose (mg/dL)", ("{d};early;{g}", "{d};late;{g}")),
    Case("day only", "Date;Glucose (mg/dL)", "{d};{g}", step_minutes=1440),
    Case("week and weekday", "Week;Weekday;Clock;Glucose (mg/dL)", "11;Fri;{c};{g}"),
    Case("age of the child in days", "Age (d);Glucose (mg/dL)", "4400.{n};{g}"),
    Case("time to now", "Minutes ago;Glucose (mg/dL)", "{i};{g}"),
    Case("forecast sheet word below", "Time;Glucose (mg/dL)", "{t};{g}", below="Target\n2026-03-14 09:00;100"),
    Case("mmol heading below", "Time;Glucose (mg/dL)", "{t};{g}", below="mmol/L\n2026-03-14 09:00;5.5"),
    Case("sister heading below", "Time;Glucose (mg/dL)", "{t};{g}", below="Siostra\n2026-03-14 09:00;155"),
    # Records of the open standards: '' as truth where they must be held or asked about.
    _fhir("sensor", truth="readings"),
    _fhir("preliminary", status="preliminary"),
    _fhir("entered in error", status="entered-in-error", truth="nothing"),
    _fhir("cancelled", status="cancelled", truth="nothing"),
    _fhir("unit without a code", value='{{"value":{g},"unit":"blobs"}}'),
    _fhir("unit and code apart", value=_MG_DL.replace('"unit":"mg/dL"', '"unit":"mmol/L"')),
    _fhir("no instant", instant='"effectiveDateTime":"2026-03-13"'),
    _fhir("urine", code="5792-7", truth="nothing"),
    _fhir("of another", more=',"focus":[{{"reference":"Patient/other"}}]'),
    _fhir("modified", more=',"modifierExtension":[{{"url":"http://example.org/planned","valueBoolean":true}}]'),
    _fhir("no value, absent", value='{{"value":{g}}}', more=',"dataAbsentReason":{{"text":"error"}}'),
)  # fmt: skip
