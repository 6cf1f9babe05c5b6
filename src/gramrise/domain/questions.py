"""A question only a person can answer. Apart from `batch`, so that reading questions loads no frames."""

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Question:
    """Something only a person can say. `kind` and `key` identify it: asked once, however often it is met.

    `about` holds what the answer is applied to (plain JSON values); `answers` the offered codes, likeliest first.
    """

    person_id: str
    kind: str
    key: str
    sentence: str
    answers: tuple[str, ...]
    about: dict[str, object] = field(default_factory=dict)


def dose_key(taken_at: str, source: object, ordinal: object) -> str:
    """The key by which questions name a dose. `taken_at`: its instant as ISO 8601."""
    return f"{taken_at} {source} {ordinal}"
