"""What can be wrong with one record of an open standard: a fixed code, its meaning, and how to mend it."""

from typing import Final

_AGAIN: Final = "have it exported again as the standard has it"

TROUBLES: Final[dict[str, tuple[str, str]]] = {
    "not_json": ("this is no strict JSON object", "export it again"),
    "not_the_standard": ("the record is not as its standard has it", _AGAIN),
    "unknown_modifier": (
        "an extension that changes the meaning of the record is not known here",
        "export it without that extension, if its value is a plain one",
    ),
    "glucose_code_unknown": (
        "it speaks of glucose under a code that is not known here",
        "have it exported under the code of sensor or blood glucose",
    ),
    "codes_contradict": ("its codes mean different things", "leave the code that is right"),
    "subject_not_a_person": ("its subject is no person", "name the person as its subject"),
    "focus_on_another": ("it is about another than its subject", "leave the focus out where it is about the person"),
    "no_time": ("the record has no time", "export it with the time of the measurement"),
    "not_a_time": ("this is no time as the standard writes times", "write date, time with seconds, and offset"),
    "no_zone": ("the time has no offset from UTC", "write the offset behind the time, as +02:00"),
    "no_time_of_day": ("this is a day without a time of day", "add hour, minute, second and offset"),
    "time_reversed": ("its end lies before its start", "look at the two times"),
    "time_out_of_range": ("this time is in the future or long before any log", "look at the year"),
    "no_value": ("the record holds neither a value nor a reason why there is none", _AGAIN),
    "value_not_a_quantity": ("the value is no number with a unit", "export it as a number with its unit"),
    "no_unit": ("the value has no unit", "export it with its unit: mg/dL or mmol/L for glucose"),
    "unit_unknown": ("the unit is none of those that the standard allows here", "export it in one of those units"),
    "unit_code_mismatch": ("the unit does not go with the code of the record", "look which of the two is right"),
    "comparator_here": ("a bound is no amount", "export the amount itself"),
    "bound_implausible": ("no sensor or meter ends its range there", "look at the number and its unit"),
    "glucose_implausible": ("no glucose value is like this", "look at the number and its unit"),
    "amount_implausible": ("so much at once is not likely", "look at the number and its unit"),
    "amount_not_positive": ("an amount must be above zero", "export what was given; what was not, leave out"),
    "weight_implausible": ("no body weight is like this", "look at the number and its unit: gr is grain, g is gram"),
    "two_values": ("another record of this file gives another value for the same instant", "keep the right one"),
    "id_of_several": (
        "its id stands for several times in this file, and nothing says which record is the newest",
        "have it exported with an id of its own for each record",
    ),
    "sample_period_implausible": (
        "no sensor has a reading as often or as seldom as this; the period is in milliseconds",
        "look whether it was meant in seconds: then it must be 1000 times as large",
    ),
    "samples_overrun": ("its samples do not fit between its start and its end", "look at the period, in milliseconds"),
    "samples_broken": ("its data are no series of numbers, E, L and U with one blank between", _AGAIN),
    "medication_unknown": (
        "the medication is not in the file, or no code says what it is",
        "export it together with its medication, under a code",
    ),
    "dose_not_sure": ("its status does not say that it was taken", "export it again once it is completed"),
    "not_final": ("its status says that it is preliminary", "export it again once it is final"),
    "note_denies": (
        "a note of the record says that it does not count, or was another amount",
        "leave the record out; where it is right, export it without the note",
    ),
    "another_person": (
        "its words may speak of another person's glucose",
        "keep each person's log in a file of their own; where it is this person's, leave the name out",
    ),
    "no_amount": ("no amount is stated", "export the amount as a number with its unit"),
    "specimen_unknown": (
        "this is no specimen that the standard lists",
        "write interstitial fluid or the kind of blood",
    ),
    "body_not_of_its_schema": ("the body is not of the schema that its header names", "mend schema_id or the body"),
    "version_unknown": ("this version of the schema is not known here", "export it in a version that is"),
}
