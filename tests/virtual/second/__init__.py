"""A second physiology for the benchmark. It shares no code with the first: only the container `Cohort` is its.

Minimal model of glucose kinetics (Bergman) with insulin action, the Lehmann-Deutsch gut, an own integrator, own days,
own habits, own sensor, own errors in the log.
"""

from virtual.second.gathering import SecondSpec, second_cohort

__all__ = ["SecondSpec", "second_cohort"]
