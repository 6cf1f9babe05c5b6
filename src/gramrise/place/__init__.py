"""Floor 3: what was not logged, judged from lows, rises and counts; shown and asked about, never fed back."""

from gramrise.place.count_questions import chance, count_question, way_words
from gramrise.place.counted import PlacedCount, place_count
from gramrise.place.layings import Laid, Laying, lay
from gramrise.place.recoveries import OwnTurns, Recovery, own_turns
from gramrise.place.settings import PlaceSettings, place_settings

__all__ = [
    "Laid",
    "Laying",
    "OwnTurns",
    "PlaceSettings",
    "PlacedCount",
    "Recovery",
    "chance",
    "count_question",
    "lay",
    "own_turns",
    "place_count",
    "place_settings",
    "way_words",
]
