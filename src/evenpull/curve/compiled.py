"""How the kernels of curves are compiled: without the lock of the interpreter, so that threads work side by side, and
with a division by zero that gives inf or nan as numpy does: that feature cannot be found, the other curves of the
column are judged all the same."""

from __future__ import annotations

from numba import njit

kernel = njit(nogil=True, error_model="numpy")
# Written into whatever calls it, where only what is used of the answer is worked out.
inlined = njit(nogil=True, error_model="numpy", inline="always")
