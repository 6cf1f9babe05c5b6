"""Array types of the room."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Whole = NDArray[np.int64]
Flags = NDArray[np.bool_]
