"""Starting tables: the weight-based first guess of the rise factor, before a person's own treatments speak."""

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class StartingTable:
    """1 g raises about k / weight. `k_mg_dl_kg_per_g` is a weight-adjusted factor, mg/dL x kg per g."""

    name: str
    k_mg_dl_kg_per_g: float
    source: str

    def factor_mg_dl_per_g(self, weight_kg: float) -> float:
        """The first guess for a body weight in kg, > 0."""
        return self.k_mg_dl_kg_per_g / weight_kg


TAUGHT: Final = StartingTable(
    "taught", 317.5, "the inverse-with-weight table families use: 5 mg/dL per g at 63.5 kg; common practice, no source"
)
TRIALS: Final = StartingTable(
    "trials", 245.0, "middle of published trials and theory (Wiethop & Cryer 1993; Haymond 2017; ISPAD; our summary)"
)
STARTING_TABLES: Final = {table.name: table for table in (TAUGHT, TRIALS)}

# Spread of one person's weight-adjusted factor in one band about the table, sd of log (our reading of published
# spreads: person 0.35, band within person 0.28; together 0.45).
PERSON_SD_LOG: Final = 0.35
BAND_SD_LOG: Final = 0.28
# Scatter of single treatments about their band's level, sd of log (Wiethop & Cryer 1993; Gingras 2018: CV 0.45-0.8).
EVENT_SD_LOG: Final = 0.45
# The reference amount whose peak causal rise, per gram, defines the factor: half of the guideline's 0.3 g/kg.
REFERENCE_GRAMS_PER_KG: Final = 0.15
