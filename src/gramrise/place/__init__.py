"""Floor 3: what was not logged, judged from lows, rises and counts; shown and asked about, never fed back."""

from gramrise.place.count_questions import CONTRADICTS, GONE, chance, count_key, count_question, way_words
from gramrise.place.counted import PlacedCount, place_count
from gramrise.place.layings import Laid, Laying, lay
from gramrise.place.recoveries import OwnTurns, Recovery, own_turns
from gramrise.place.repeats import Repeated, Repeating, Repeats, covered_days, repeating_hours
from gramrise.place.settings import PlaceSettings, place_settings
from gramrise.place.steep_recoveries import LooksTreated, looks_treated, steep_questions
from gramrise.place.weak_sources import WeakCause, WeakGlucose, weak_glucose

__all__ = [
    "CONTRADICTS",
    "GONE",
    "Laid",
    "Laying",
    "LooksTreated",
    "OwnTurns",
    "PlaceSettings",
    "PlacedCount",
    "Recovery",
    "Repeated",
    "Repeating",
    "Repeats",
    "WeakCause",
    "WeakGlucose",
    "chance",
    "count_key",
    "count_question",
    "covered_days",
    "lay",
    "looks_treated",
    "own_turns",
    "place_count",
    "place_settings",
    "repeating_hours",
    "steep_questions",
    "way_words",
    "weak_glucose",
]
