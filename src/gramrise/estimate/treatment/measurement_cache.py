"""Which of a person's treatments stand as earlier nights measured them, and which have to be measured anew.

A treatment's numbers rest on its window alone, its picture on the treatments before it too. So treatments stand from
the first one on for as long as nothing differs; from the first that differs all are measured and drawn anew. Whatever
was kept, the answer is the same: a treatment stands only where measuring it would give what is kept.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from hashlib import blake2b
from typing import Final

import numpy as np
import polars as pl

from gramrise.domain.frames import SCREENED
from gramrise.domain.kept import FROM_THE_FIRST, Kept, KeptTreatment, ToKeep
from gramrise.domain.person import Person
from gramrise.domain.reasons import Verdict
from gramrise.estimate.array_types import Array
from gramrise.estimate.body_weight import with_weights
from gramrise.estimate.path.windows import DAY_MIN, doses_of, minutes_of, reads_from, reads_to
from gramrise.estimate.path_settings import PathSettings
from gramrise.estimate.settings import EstimateSettings
from gramrise.estimate.treatment.measurement import MeasurementSetup, Records
from gramrise.estimate.treatment.pictures import BodyWeights
from gramrise.estimate.treatment.untreated_evidence import stretches_from

KEY_BYTES: Final = 16
_TIMES: Final = ("first_dose_utc", "last_dose_utc", "window_from_utc", "window_to_utc")


@dataclass(frozen=True, slots=True)
class Standing:
    """A person's treatments [B] in order of time, and how many of them stand.

    inputs_from_utc   readings and events from here on are needed
    """

    person: Person
    judged: pl.DataFrame  # SCREENED with weight_kg
    firsts_us: tuple[int, ...]
    keys: tuple[bytes, ...]
    stand_n: int
    records: Records  # [stand_n]
    setup: MeasurementSetup
    settings: EstimateSettings
    inputs_from_utc: datetime

    @property
    def weights(self) -> BodyWeights:
        return BodyWeights(self.judged["weight_kg"].cast(pl.Float64).fill_null(np.nan).to_numpy())

    def to_keep(self, records: Records, pictures: Sequence[bytes]) -> ToKeep:
        """What of all records [B], and of the pictures drawn anew, the next night goes on from."""
        new = slice(self.stand_n, None)
        rows = zip(self.firsts_us[new], self.keys[new], records[new], pictures, strict=True)
        treatments = tuple(KeptTreatment(first, key, record.tobytes(), picture) for first, key, record, picture in rows)
        return ToKeep(self.firsts_us[self.stand_n - 1] + 1 if self.stand_n else FROM_THE_FIRST, treatments)


def standing(
    person: Person,
    doses: pl.DataFrame,
    screened: pl.DataFrame,
    as_of_utc: datetime,
    settings: EstimateSettings,
    kept: Kept | None = None,
) -> Standing:
    """What stands of a person's treatments up to an instant; without anything kept, nothing does.

    doses     DOSES of the person, all of them
    screened  SCREENED of the person
    """
    judged = with_weights(person, SCREENED.check(screened).filter(pl.col("first_dose_utc") <= as_of_utc))
    setup = MeasurementSetup.of(settings.path, minutes=settings.prediction.minutes_after)
    firsts = tuple(judged["first_dose_utc"].dt.epoch("us").to_list())
    keys = _keys(judged, doses, setup, settings)
    stand_n = 0 if kept is None else _stand_n(judged, firsts, keys, kept, as_of_utc, settings)
    records = np.zeros(0, dtype=setup.record)
    if kept is not None and stand_n:
        packed = b"".join(kept.treatments[first][1] for first in firsts[:stand_n])
        records = np.frombuffer(packed, dtype=setup.record)
    needed = reads_from(judged[stand_n:], settings.path)
    since = inputs_from(as_of_utc, settings.path)
    if needed.size:
        since = min(since, datetime.fromtimestamp(float(needed.min()) * 60, UTC))
    return Standing(person, judged, firsts, keys, stand_n, records, setup, settings, since)


def inputs_from(as_of_utc: datetime, settings: PathSettings) -> datetime:
    """Readings and events from here on are needed every night: for the latest stretches, and what acts upon them."""
    earlier = max(settings.insulin.action_end_min, settings.insulin.meal_end_min, settings.stretches.eaten_before_min)
    return stretches_from(as_of_utc, settings) - timedelta(minutes=earlier)


def _keys(
    judged: pl.DataFrame, doses: pl.DataFrame, setup: MeasurementSetup, settings: EstimateSettings
) -> tuple[bytes, ...]:
    """[B] what each treatment is computed from, but for the readings and events in its window."""
    first, last = minutes_of(judged["first_dose_utc"]), minutes_of(judged["last_dose_utc"])
    times = [minutes_of(judged[name]) for name in _TIMES]
    weight, used = judged["weight_kg"].fill_null(np.nan).to_numpy(), (judged["verdict"] == Verdict.USED).to_numpy()
    facts = np.column_stack([*times, weight, used]).astype(float)
    minutes, grams, form = doses_of(doses, first, last)
    given = np.stack([minutes, grams, form], axis=2).astype(float)
    doses_n = np.where(grams > 0, np.arange(grams.shape[1]) + 1, 0).max(axis=1, initial=0)
    told = (repr(setup.record), settings.prediction.model_dump_json())
    mark = setup.fingerprint + blake2b("\n".join(told).encode(), digest_size=KEY_BYTES).digest()
    return tuple(
        blake2b(mark + facts[row].tobytes() + given[row, :n].tobytes(), digest_size=KEY_BYTES).digest()
        for row, n in enumerate(doses_n.tolist())
    )


def _stand_n(
    judged: pl.DataFrame,
    firsts: tuple[int, ...],
    keys: tuple[bytes, ...],
    kept: Kept,
    as_of_utc: datetime,
    settings: EstimateSettings,
) -> int:
    """How many from the first on stand: the same treatments, computed from the same, and seen to their end."""
    until = min(kept.until_utc, as_of_utc).timestamp() / 60
    past = np.maximum(reads_to(judged, settings.path), _looked_at(judged, settings))
    seen = past <= np.floor(until / DAY_MIN) * DAY_MIN
    earlier = iter(kept.treatments.items())
    for n, (first, key, whole) in enumerate(zip(firsts, keys, seen.tolist(), strict=True)):
        at, (known, _) = next(earlier, (None, (b"", b"")))
        if not whole or at != first or known != key:
            return n
    return len(firsts)


def _looked_at(judged: pl.DataFrame, settings: EstimateSettings) -> Array:
    """[B] the minute before which the readings lie that predictions are held against."""
    within = max(settings.prediction.minutes_after) + settings.prediction.reading_within_minutes
    return minutes_of(judged["first_dose_utc"]) + within + 1
