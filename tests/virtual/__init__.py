"""Invented persons after published physiology, with known truth, for the samples, the tests and the benchmark."""

from virtual.cohort import Cohort, CohortSpec, cohort

__all__ = ["Cohort", "CohortSpec", "cohort"]
