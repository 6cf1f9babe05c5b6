"""Floor 2: readings and doses to lows, treatments and screened treatments. Pure functions without files or clock."""

from gramrise.detect.chunks import detect_in_chunks
from gramrise.detect.detection import Detected, detect
from gramrise.detect.settings import DetectSettings

__all__ = ["DetectSettings", "Detected", "detect", "detect_in_chunks"]
