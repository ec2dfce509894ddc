"""Standard threads: which diameters and pitches exist (ISO 261, ASME B1.1). Millimetres and inches as in the tables."""

from __future__ import annotations

from functools import lru_cache

from evenpull.catalogue.tables import table

INCH_SERIES = ("UNC", "UNF", "8UN", "UNEF", "UNS")


@lru_cache(maxsize=1)
def metric_pitches() -> dict[float, tuple[float, ...]]:
    """Nominal diameter (mm) -> pitches (mm); the coarse one first where there is one."""
    data = table("threads")["metric"]
    found: dict[float, tuple[float, ...]] = {float(d): (float(p),) for d, p in data["coarse"].items()}
    for d, pitches in data["fine"].items():
        found[float(d)] = (*found.get(float(d), ()), *map(float, pitches))
    return dict(sorted(found.items()))


def coarse_pitch(d: float) -> float | None:
    """Coarse pitch (mm) of the diameter d (mm), None where the plan has none."""
    pitch = table("threads")["metric"]["coarse"].get(f"{d:g}")
    return None if pitch is None else float(pitch)


def size_in_inch(size: str) -> float:
    """Diameter in inch of a size as it is written: "#10", "3/4", "1-1/8". ValueError if it is none."""
    numbered = table("threads")["inch"]["numbered"]
    if size in numbered:
        return float(numbered[size])
    whole, _, fraction = size.rpartition("-")
    above, bar, below = fraction.partition("/")
    if bar:
        return int(whole or 0) + int(above) / int(below)
    return float(int(fraction)) if not whole else float("nan")


@lru_cache(maxsize=1)
def inch_threads() -> dict[tuple[str, float], tuple[str, ...]]:
    """(size as written, threads per inch) -> the series that hold it, e.g. ("1", 8.0) -> ("UNC", "8UN")."""
    data = table("threads")["inch"]
    found: dict[tuple[str, float], tuple[str, ...]] = {}
    for series in INCH_SERIES:
        for size, n in data[series].items():
            key = (size, float(n))
            found[key] = (*found.get(key, ()), series)
    return found
