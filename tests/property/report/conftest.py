"""The invented people of the report's unit tests serve the property tests, too."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parents[2] / "unit" / "report"))
