"""Settings of the glucose card, each with its unit in the name; values and their sources are in config/card.toml."""

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from gramrise.config import settings
from gramrise.domain.units import GlucoseUnit

ShownRow = tuple[float, float]  # first and last value the reader shows, both in the row


class CardSettings(BaseModel):
    """What the card's amounts, states and pages rest on."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    rows_mg_dl: tuple[ShownRow, ...] = Field(min_length=1)
    rows_mmol_l: tuple[ShownRow, ...] = Field(min_length=1)
    early_row_mg_dl: ShownRow
    early_row_mmol_l: ShownRow
    default_target_mg_dl: float = Field(gt=70, le=180)
    safe_level_mg_dl: float = Field(gt=0)
    safe_minutes: float = Field(gt=0)
    most_chance_below: float = Field(gt=0, lt=0.5)
    most_grams_per_kg: float = Field(gt=0, le=1)
    most_grams: float = Field(gt=0, le=40)
    expect_minutes: float = Field(gt=0)
    expect_share: float = Field(gt=0, lt=1)
    top_step_minutes: int = Field(gt=0)
    reading_error_sd_mg_dl: float = Field(ge=0)
    drift_sd_mg_dl: float = Field(ge=0)
    drift_minutes: float = Field(gt=0)
    youngest_years: int = Field(ge=2)
    pieces_from_years: int = Field(ge=4)
    most_piece_over: float = Field(ge=0)
    plan_rounding: float = Field(ge=0, le=0.2)
    liquid_step_ml: int = Field(gt=0)
    most_fall_mg_dl_per_min: float = Field(ge=0)
    fall_lasts_minutes: float = Field(gt=0)
    insulin_hours: int = Field(gt=0)
    hard_sweets_from_years: int = Field(ge=4)
    findings_within_days: int = Field(gt=0)
    valid_months: int = Field(gt=0, le=3)
    weight_change: float = Field(gt=0, lt=1)
    emergency_number: str
    fridge_paper: Literal["a4", "us-letter"]
    picture_ppi: int = Field(ge=72, le=600)

    def rows(self, unit: GlucoseUnit) -> tuple[ShownRow, ...]:
        """The rows for a low, lowest first, in the unit the person reads."""
        return self.rows_mg_dl if unit is GlucoseUnit.MG_DL else self.rows_mmol_l

    def early_row(self, unit: GlucoseUnit) -> ShownRow:
        """The row for a falling level that is not low yet."""
        return self.early_row_mg_dl if unit is GlucoseUnit.MG_DL else self.early_row_mmol_l

    def shown_step(self, unit: GlucoseUnit) -> float:
        """The step between two values a reader shows: 1 mg/dL or 0.1 mmol/L."""
        return 1.0 if unit is GlucoseUnit.MG_DL else 0.1


SHIPPED_SETTINGS = settings.load("card", CardSettings)
