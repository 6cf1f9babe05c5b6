"""gramrise: how many mg/dL one gram of glucose raises this person, at this time of day."""

__version__ = "0.1.0"
