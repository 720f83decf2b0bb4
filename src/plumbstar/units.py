"""The arrays that every module means. Angles within one turn are in ``turns``."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
Bools = NDArray[np.bool_]
