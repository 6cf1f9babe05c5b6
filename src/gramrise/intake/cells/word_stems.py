"""Words as they are compared: without the endings of plurals."""

from functools import cache


@cache
def stem_of(word: str) -> str:
    """A word without the endings of plurals, enough to match 'tablets' with 'tablet'."""
    for ending in ("en", "es", "n", "s"):
        if len(word) - len(ending) >= 4 and word.endswith(ending):
            return word[: -len(ending)]
    return word


# General words for glucose.
GENERIC = frozenset(
    stem_of(w)
    for w in ("glucose", "glukose", "glucosa", "dextrose", "traubenzucker", "sugar", "zucker", "sucre", "azucar")
)
