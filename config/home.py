"""Where a household's data lie: --home, else GRAMRISE_HOME, else the platform's data folder."""

import os
from pathlib import Path

HOME_VARIABLE = "GRAMRISE_HOME"


def home_folder(given: Path | None = None) -> Path:
    """The home folder; it need not exist yet."""
    if given is not None:
        return given.expanduser()
    named = os.environ.get(HOME_VARIABLE)
    if named:
        return Path(named).expanduser()
    from platformdirs import user_data_path

    return user_data_path("gramrise", appauthor=False)
