"""Floor: readings and logged doses to lows, treatments and screened treatments. Pure functions; no files, no clock."""

from gramrise.detect.detection import Detected, detect, detect_since
from gramrise.detect.settings import DetectSettings

__all__ = ["DetectSettings", "Detected", "detect", "detect_since"]
