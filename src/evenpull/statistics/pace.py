"""How fast events follow each other."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def too_fast(times: NDArray[np.float64], least: float, at_once: int = 1) -> NDArray[np.intp]:
    """Places i at which event i + at_once follows event i in less than `least` (s), by one clock.

    `times` (s) in the order of the counter; `at_once` tools that work at the same time give that many events at once. A
    clock that goes back tells nothing: a negative difference is no hit. ValueError for at_once below 1.
    """
    if at_once < 1:
        raise ValueError(f"{at_once} events at once: at least one is needed")
    passed = times[at_once:] - times[:-at_once]
    return np.flatnonzero((passed >= 0) & (passed < least))
