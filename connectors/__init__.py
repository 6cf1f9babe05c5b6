"""Layouts: short TOML descriptions of tables people keep, each with a clean and a broken sample and what both give."""

from pathlib import Path


def samples_folder() -> Path:
    """The folder of samples beside the layouts, where the project is checked out or installed editable."""
    return Path(__file__).resolve().parent / "samples"
