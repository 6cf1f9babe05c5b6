"""So many grams of a gel, a syrup, a drink: of glucose, or of the whole? A 40 % gel of 10 g holds 4 g of glucose."""

from collections.abc import Mapping

from gramrise.domain.sources import AmountUnit, Form, Source
from gramrise.intake.cells.word_stems import GENERIC, stem_of

_LINKS = frozenset({"of", "de", "d", "von", "aus", "from"})
Kinds = Mapping[str, frozenset[str]]


def is_form(stem: str, kinds: Kinds) -> bool:
    """Whether a word names a thing of which glucose is only a part: 'gel', 'syrup', 'traubenzuckergel'."""
    return stem in kinds["form"] or any(
        stem.startswith(glucose) and stem_of(stem[len(glucose) :].lstrip("n")) in kinds["form"] for glucose in GENERIC
    )


def form_in(tokens: list[str], kinds: Kinds, source: Source | None) -> tuple[str, bool]:
    """(the word for such a thing, whether the words say that an amount in grams is of glucose).

    'glucose gel' names a gel; '4 g glucose from the gel' says what the grams are of. A tablet is nearly all glucose
    where it is called so: of 'glucose tablets' nobody is asked.
    """
    stems = [stem_of(token) for token in tokens]
    carbohydrate = any(stem in kinds["carbohydrate"] for stem in stems)
    generic = [at for at, stem in enumerate(stems) if stem in GENERIC]
    forms = [at for at, stem in enumerate(stems) if is_form(stem, kinds)]
    if forms:
        said = any(not any(_beside(stems, at, form) for form in forms) for at in generic)
        return tokens[forms[0]], carbohydrate or said
    if source is not None:
        diluted = source.unit is AmountUnit.ML or source.form in {Form.LIQUID, Form.GEL}
        return (source.name if diluted else ""), carbohydrate or bool(generic)
    pieces = [at for at, stem in enumerate(stems) if stem in kinds["piece"]]
    return (tokens[pieces[0]] if pieces else ""), carbohydrate or bool(generic)


def _beside(stems: list[str], one: int, other: int) -> bool:
    """Whether two words stand beside each other, but for small words between them: 'gel de glucosa'."""
    first, last = sorted((one, other))
    between = stems[first + 1 : last]
    # '4 g glucose from gel' says what the grams are of: the link leads from the glucose to the form.
    linked = all(word in _LINKS for word in between)
    leads_away = bool(between) and one < other
    return linked and not leads_away
