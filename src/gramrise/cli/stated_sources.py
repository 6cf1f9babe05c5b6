"""What a family states of a source, as typed: slips are refused, a label is read."""

from typing import Final

from gramrise.domain.person import Dated
from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import AmountUnit, Form, Source, StatedAs

# Our choice: what candies and tablets, and liquids and gels, hold as a rule; beyond it a slip of the pen is likelier.
USUAL_GRAMS: Final = {AmountUnit.PIECE: (0.5, 6.0), AmountUnit.ML: (0.04, 0.75)}
# A tube or sachet of gel is a piece, too, and holds a treatment; our choice.
USUAL_GRAMS_OF_GEL: Final = (4.0, 30.0)
# Our choice: the same source stated again with so many times the strength is asked about.
MOST_TIMES: Final = 1.9
SINCE_WHEN: Final = "add --from DATE; if the old number was a slip for all that is logged, add --meant"
SAME_STRENGTH: Final = 1e-3  # closer, as a share, it is the same written with other decimals


def refuse_slip(stated: Source, told: Dated[tuple[Source, ...]], *, dated: bool) -> None:
    """Raises WrongUse for a strength that is unusual or far from what the same source was stated to hold.

    told    what was stated until now, at any time: a strength per piece is compared with the latest per piece, though
            the source was stated per mL since, or was not used
    dated   a day is given from which it holds; without one, another strength would change what was logged before
    """
    now, unit = stated.glucose_per_unit_g, stated.unit
    known = [source for _, held in reversed(told.entries) for source in held if source.name == stated.name]
    before = next((source for source in known if source.unit == unit), None)
    _refuse_other_kind(stated, known[:1], dated=dated)
    if before is not None and not 1 / MOST_TIMES < now / before.glucose_per_unit_g < MOST_TIMES:
        raise WrongUse(
            f"'{stated.name}' held {before.glucose_per_unit_g:.3g} g per {unit} until now, {now:.3g} is far from it",
            "correct the number; if it is right, add --meant (and --from DATE where the strength changed that day)",
        )
    if before is not None and not dated and _is_other(before, stated):
        raise WrongUse(
            f"'{stated.name}' held {before.glucose_per_unit_g:.3g} g per {unit} until now: "
            f"since when does it hold {now:.3g}?",
            SINCE_WHEN,
        )
    in_tubes = stated.form is Form.GEL and unit is AmountUnit.PIECE
    least, most = USUAL_GRAMS_OF_GEL if in_tubes else USUAL_GRAMS[unit]
    if before is None and not least <= now <= most:
        raise WrongUse(
            f"{now:.3g} g of glucose per {unit} is unusual", "correct the number; if it is right, add --meant"
        )


def _refuse_other_kind(stated: Source, latest: list[Source], *, dated: bool) -> None:
    """Raises WrongUse for another form than the latest, and for another unit without a day: pieces are no mL."""
    for source in latest:
        if source.form != stated.form:
            raise WrongUse(
                f"'{stated.name}' was {source.form} until now, and is {stated.form} now",
                "give another form its own name; if it changed, add --meant and --from DATE",
            )
        if source.unit != stated.unit and not dated:
            raise WrongUse(
                f"'{stated.name}' was stated per {source.unit} until now, and is stated per {stated.unit} now",
                SINCE_WHEN,
            )


def _is_other(before: Source, stated: Source) -> bool:
    """Whether a strength is another one. The same label, said now what its grams are of, is not."""
    same_label = (before.grams_per_piece, before.grams_per_ml) == (stated.grams_per_piece, stated.grams_per_ml)
    if same_label and before.stated_as is StatedAs.UNKNOWN:
        return False
    return abs(stated.glucose_per_unit_g / before.glucose_per_unit_g - 1) > SAME_STRENGTH


def strength_of_label(
    label: str, grams_per_piece: float | None, grams_per_ml: float | None
) -> tuple[float | None, float | None]:
    """Grams per piece and per mL, one of them None, as a label states them. Raises WrongUse where both are told."""
    from gramrise.supplies import label_strength

    if grams_per_piece is not None or grams_per_ml is not None:
        raise WrongUse("the strength is told twice", "give --label, or the grams per piece or mL")
    told = label_strength(label)
    in_pieces = told.unit is AmountUnit.PIECE
    return (told.grams_per_unit, None) if in_pieces else (None, told.grams_per_unit)
