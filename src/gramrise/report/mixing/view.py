"""What the step sheet and the label of a batch say, in numbers."""

from datetime import date, timedelta

from pydantic import BaseModel, ConfigDict

from gramrise.domain.mixtures import WaterBy
from gramrise.domain.person import Person
from gramrise.supplies import Recipe, SuppliesSettings

# Amounts in the table of the sheet, mL: what oral syringes and marked cups show.
TABLE_ML = (5, 10, 15, 20, 30)


class MixingView(BaseModel):
    """One page: how to mix one batch of one source. Grams are of anhydrous glucose unless they are of powder."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    person_name: str
    language: str
    zone: str
    unit: str
    source: str
    powder: str  # anhydrous | monohydrate
    powder_g: float
    volume_ml: float
    water_ml: float  # of water to pour onto the powder
    filled_to_line: bool  # else the water is measured out
    total_g: float
    least_total_g: float
    most_total_g: float
    strength_g_per_ml: float
    citric_acid_mg: float
    ascorbic_acid_mg: float
    mixed_on: date | None  # None: a sheet to be filled in by hand
    use_by: date | None
    rules: SuppliesSettings
    paper: str


def mixing_view(
    person: Person,
    source: str,
    recipe: Recipe,
    rules: SuppliesSettings,
    mixed_on: date | None = None,
    paper: str = "a4",
) -> MixingView:
    """The page for a recipe; with the local day of mixing, its last day of use stands on the label."""
    made, mixture = recipe.solution, recipe.mixture
    return MixingView(
        person_name=person.name or person.person_id,
        language=person.language,
        zone=person.zone_now().key,
        unit=str(person.unit),
        source=source,
        powder=str(mixture.powder),
        powder_g=mixture.powder_g,
        volume_ml=made.volume_ml,
        water_ml=recipe.water_added_ml,
        filled_to_line=mixture.water_by is WaterBy.MADE_UP_TO,
        total_g=made.total_g,
        least_total_g=made.total_g * (1 - rules.weight_check_share),
        most_total_g=made.total_g * (1 + rules.weight_check_share),
        strength_g_per_ml=made.strength_g_per_ml,
        citric_acid_mg=mixture.citric_acid_mg,
        ascorbic_acid_mg=mixture.ascorbic_acid_mg,
        mixed_on=mixed_on,
        use_by=None if mixed_on is None else mixed_on + timedelta(days=rules.days_kept_cold),
        rules=rules,
        paper=paper,
    )
