"""The persons of a night, worked on here, by processes of this machine or by a cluster: the same results everywhere."""

from gramrise.nightly.workers.persons import STOPS_ALL, NightOfPersons, PersonDue, Tools, one_night
from gramrise.nightly.workers.spreading import spread

__all__ = ["STOPS_ALL", "NightOfPersons", "PersonDue", "Tools", "one_night", "spread"]
