"""The arrays that every module means. Angles within one turn are in ``turns``."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
#: float32, where half the memory is half the time. Any: formulas take both, which their types
#: cannot say.
Single = NDArray[Any]
Indices = NDArray[np.intp]
Bools = NDArray[np.bool_]


def single(x: Array) -> Single:
    """The same numbers in single precision."""
    return np.asarray(x, dtype=np.float32)
