"""Between floors 1 and 2: layouts, short descriptions of tables people keep, each with two samples beside it."""

from pathlib import Path


def samples_folder() -> Path:
    """The folder of samples beside the layouts, where the project is checked out or installed editable."""
    return Path(__file__).resolve().parent / "samples"
