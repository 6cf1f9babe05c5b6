"""Makes `support` and `virtual` importable for the scripts beside this file: import it before the first of them."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
