"""A log whose sources nobody has stated yet waits with one sentence, instead of a question for each row."""

from collections import Counter

from gramrise.connectors.layout import GlucoseGiven, Layout
from gramrise.intake.context import ReadContext
from gramrise.intake.problems import FileWaits
from gramrise.intake.rows.taken_rows import TakenRows

_IN_ONE = {"piece": "one piece", "mL": "one mL", "g": "one gram", "a number alone": "what its bare numbers count"}
_NAMED = 3  # words named in the sentence; our choice: it stays one sentence


def check_sources_stated(taken: TakenRows, layout: Layout, file: str, context: ReadContext) -> None:
    """Raises FileWaits for a log of glucose given most of whose amounts are of sources that the person does not have.

    TakenRows in, each row would become a question, and be another dose once its source is stated. A file that brings
    anything else beside is never held back.
    """
    least = context.settings.log_waits_from_doses
    if not _only_glucose_given(layout) or len(taken.unstated_sources) < least:
        return
    if 2 * len(taken.unstated_sources) <= taken.doses.height:
        return
    words = [word for word, _ in Counter(taken.unstated_sources).most_common(_NAMED)]
    spoken = [_IN_ONE.get(word, f"'{word}'") for word in words]
    named = next((word for word in words if word not in _IN_ONE), "NAME")
    person = context.person.person_id
    raise FileWaits(
        "source_unstated",
        file,
        f"nobody has stated yet how much glucose is in {' or '.join(spoken)}",
        f"gramrise person source {person} '{named}' --form tablet --grams-per-piece GRAMS (liquid, gel: "
        "--grams-per-ml GRAMS; another word for a source you have: --also WORD), then bring the file again",
    )


def _only_glucose_given(layout: Layout) -> bool:
    return all(isinstance(part, GlucoseGiven) and not part.remarks_too for part in layout.brings)
