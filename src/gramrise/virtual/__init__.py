"""Floor 2: invented persons after published physiology, with known truth, for the demo and the benchmark."""

from gramrise.virtual.cohort import Cohort, CohortSpec, cohort

__all__ = ["Cohort", "CohortSpec", "cohort"]
