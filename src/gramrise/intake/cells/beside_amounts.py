"""What the words beside an amount say: that it is what is left and not what was given, and who noticed the low."""

import re
from dataclasses import replace
from functools import lru_cache

from gramrise.intake.cells.amount_tokens import LEFT, Chunk
from gramrise.intake.words import HeaderWords, folded

CERTAIN = LEFT[0]


def without_counts(chunks: list[Chunk]) -> tuple[list[Chunk], list[Chunk]]:
    """(chunks that may be amounts given, chunks that count what is left, full or bought).

    'Noch drin: 7 pieces' is one; words without a number speak of the number after them, else of the one before.
    """
    marked = list(chunks)
    for at, chunk in enumerate(chunks):
        if not chunk.left or (chunk.numbers and not _a_container(chunk)):
            continue
        follows, before = chunks[at + 1 : at + 2], chunks[at - 1 : at] if at else []
        if follows and follows[0].numbers and not follows[0].left:
            marked[at + 1] = replace(follows[0], left=chunk.left)
        elif before and before[0].numbers and chunk.left == CERTAIN:
            marked[at - 1] = replace(before[0], left=chunk.left)
    counted = [chunk for chunk in marked if chunk.left and chunk.numbers]
    return [chunk for chunk in marked if not chunk.left], counted


def _a_container(chunk: Chunk) -> bool:
    """'A full tin, 24 pieces': the one is the tin, what follows is in it."""
    return chunk.numbers == [1.0] and not chunk.speaks_of_glucose


def who_noticed(text: str, words: HeaderWords) -> str:
    """child, sensor or adult, the one named first; '' where the words name nobody."""
    padded = f" {re.sub(r'[^a-z]+', ' ', folded(text))} "
    adult = _first(padded, words.amounts["adult"])
    noticing = _first(padded, words.amounts["noticing"])
    by_adult = adult if adult is not None and noticing is not None else None
    found = {
        "adult": by_adult,
        "sensor": _first(padded, words.amounts["noticed_sensor"]),
        "child": None if by_adult is not None else _first(padded, words.amounts["noticed_child"]),
    }
    named = {who: at for who, at in found.items() if at is not None}
    return min(named, key=lambda who: named[who]) if named else ""


def noticed_by(cell: str, words: HeaderWords, name: str) -> str:
    """child, sensor or adult, of a cell that says nothing else; `name`: what the child is called. '' where unknown."""
    if not cell:
        return ""
    padded = f" {re.sub(r'[^a-z]+', ' ', folded(cell))} "
    if name and f" {folded(name)} " in padded:
        return "child"
    kinds = {"sensor": words.amounts["noticed_sensor"], "adult": (*words.amounts["adult"], *words.amounts["the_adult"]),
             "child": (*words.amounts["noticed_child"], *words.amounts["the_child"])}  # fmt: skip
    named = {who: at for who, phrases in kinds.items() if (at := _first(padded, phrases)) is not None}
    return min(named, key=lambda who: named[who]) if named else ""


def noticed_named(text: str, words: HeaderWords) -> str:
    """child, sensor or adult where a text is a word for one of them and nothing else; '' for any other text."""
    alone = folded(text).strip().removesuffix("(r)")
    kinds = {"sensor": words.amounts["noticed_sensor"], "adult": (*words.amounts["adult"], *words.amounts["the_adult"]),
             "child": words.amounts["the_child"]}  # fmt: skip
    return next((who for who, listed in kinds.items() if alone in {folded(word) for word in listed}), "")


def _first(padded: str, phrases: tuple[str, ...]) -> int | None:
    places = [at for phrase in _spaced(phrases) if (at := padded.find(phrase)) >= 0]
    return min(places) if places else None


@lru_cache(maxsize=16)
def _spaced(phrases: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(f" {folded(phrase)} " for phrase in phrases)
