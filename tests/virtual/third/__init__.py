"""A third physiology that shares no code and no equations with the first two; nothing was tuned on it.

Hepatic output that insulin action suppresses, saturable uptake, counter-regulation, a stomach that empties at a bounded
rate, a drive that turns slowly, a sensor whose calibration wanders, alarms that make people treat, times written on
quarter hours.
"""

from virtual.third.gathering import ThirdSpec, third_cohort

__all__ = ["ThirdSpec", "third_cohort"]
