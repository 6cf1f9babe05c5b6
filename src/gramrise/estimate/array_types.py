"""Array types of the room, and one sum that all its parts need."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Whole = NDArray[np.int64]
Flags = NDArray[np.bool_]


def log_sum_exp(values: Array, axis: int | None = None) -> Array:
    """log(sum(exp(values))) along an axis, or over all, without overflow; the values must be finite."""
    top = values.max(axis=axis, keepdims=True)
    total = np.log(np.exp(values - top).sum(axis=axis, keepdims=True)) + top
    return np.asarray(total.squeeze(axis=axis))
