"""Thread dimensions from the basic profile: metric ISO 68-1 / ISO 724, inch ASME B1.1."""

from __future__ import annotations

import math
import re

from evenpull.catalogue.tables import NotInCatalogue
from evenpull.catalogue.threads import coarse_pitch, inch_threads, metric_pitches, size_in_inch
from evenpull.joint.numeric import Num, sqrt
from evenpull.joint.target import ThreadSize

INCH = 0.0254

_METRIC = re.compile(r"M\s*(?P<d>\d+(?:\.\d+)?)(?:\s*[x×*X-]\s*(?P<P>\d+(?:\.\d+)?))?")
_INCH = re.compile(
    r"(?P<size>(?:#|[Nn][Oo]\.?\s*)?\d+(?:[\s-]+\d+/\d+|/\d+)?)(?:\s*(?:in|\"))?\s*"
    r"(?:-\s*(?P<n>\d+(?:\.\d+)?))?\s*-?\s*(?P<series>UNC|UNRC|UNF|UNRF|8\s*UN|UNEF|UNS|UN|UNR)?(?:-?[123]A)?"
)


def stress_area(d2: float, d3: float) -> float:
    """Nominal stress area A_s = pi/4 ((d2 + d3)/2)^2 in m2 (ISO 898-1). Diameters in m."""
    return math.pi / 4 * ((d2 + d3) / 2) ** 2


def nominal_stress_area(size: ThreadSize) -> float:
    """A_s,nom in m2: the stress area rounded to three figures (of mm2), as the tables of ISO 898-1 and -2 print it."""
    return float(f"{size.A_s * 1e6:.3g}") * 1e-6


def metric_thread(d: float, P: float) -> ThreadSize:
    """Basic dimensions of a metric thread from diameter and pitch in m (ISO 724; root rounded to H/6 for d3).

    d2 = d - 0.649519 P, D1 = d - 1.082532 P, d3 = d - 1.226869 P. ValueError unless 0 < P and d3 > 0.
    """
    if not (P > 0 and d > 1.226869 * P):
        raise ValueError(f"no thread of diameter {d} m and pitch {P} m")
    d2, D1, d3 = d - 0.649519 * P, d - 1.082532 * P, d - 1.226869 * P
    name = f"M{d * 1e3:.6g}"
    if coarse_pitch(round(d * 1e3, 6)) != round(P * 1e3, 6):
        name += f"x{P * 1e3:.6g}"
    return ThreadSize(name, "metric", d, P, d2, D1, d3, stress_area(d2, d3), math.pi / 4 * d3**2)


def inch_thread(D: float, n: float, designation: str = "") -> ThreadSize:
    """Basic dimensions of a unified thread from diameter D in m and n threads per inch (ASME B1.1).

    Pitch diameter D - 0.649519/n, internal minor diameter D - 1.082532/n, root of the UNR profile D - 1.1908/n (the
    last from memory), tensile stress area pi/4 (D - 0.9743/n)^2, root area pi/4 (D - 1.3/n)^2.
    """
    if not (n > 0 and 1.3 * INCH / n < D):
        raise ValueError(f"no thread of diameter {D} m with {n} threads per inch")
    P = INCH / n
    return ThreadSize(
        designation or f"{D / INCH:.4g}-{n:g}", "inch", D, P, D - 0.649519 * P, D - 1.082532 * P, D - 1.1908 * P,
        math.pi / 4 * (D - 0.9743 * P) ** 2, math.pi / 4 * (D - 1.3 * P) ** 2,
    )


def thread(designation: str) -> ThreadSize:
    """The standard thread named so: "M16", "M16x1.5", "3/4-10 UNC", "1-1/8-8UN", "#10-24", "3/4 UNC".

    Metric without pitch is the coarse one; the inch series may be left out when diameter and threads per inch are
    given. Raises NotInCatalogue, which names the sizes or pitches that do exist.
    """
    text = designation.strip()
    if match := _METRIC.fullmatch(text):
        return _metric(text, float(match["d"]), None if match["P"] is None else float(match["P"]))
    if match := _INCH.fullmatch(text):
        return _inch(text, match["size"], match["n"], match["series"])
    raise NotInCatalogue(
        "thread", designation, (), 'write it as "M16", "M16x1.5", "3/4-10 UNC", "1-1/8-8 UN" or "#10-24 UNC"'
    )


def _metric(text: str, d: float, P: float | None) -> ThreadSize:
    pitches = metric_pitches()
    if d not in pitches:
        near = sorted(sorted(pitches, key=lambda other: abs(other - d))[:4])
        sizes = tuple(f"M{other:g}" for other in near)
        raise NotInCatalogue("thread", text, sizes, "the nearest sizes of ISO 261")
    with_pitch = tuple(f"M{d:g}x{other:g}" for other in pitches[d])
    if P is None:
        P = coarse_pitch(d)
        if P is None:
            raise NotInCatalogue("thread", text, with_pitch, "this size has no coarse pitch")
    if P not in pitches[d]:
        raise NotInCatalogue("thread", text, with_pitch, "pitches of ISO 261")
    return metric_thread(d * 1e-3, P * 1e-3)


def _inch(text: str, size: str, n_text: str | None, series: str | None) -> ThreadSize:
    size = re.sub(r"^[Nn][Oo]\.?\s*", "#", size)
    size = re.sub(r"[\s-]+", "-", size)
    known = inch_threads()
    sizes = {name for name, _ in known}
    if size not in sizes and f"#{size}" in sizes:  # "10-24" is the numbered size 10
        size = f"#{size}"
    if series is not None:
        series = re.sub(r"\s", "", series).replace("UNR", "UN")
        if series == "UN":
            series = None
    matches = [
        (found, kinds) for found, kinds in known.items()
        if found[0] == size and (n_text is None or found[1] == float(n_text)) and (series is None or series in kinds)
    ]
    if len(matches) != 1:
        here = tuple(_inch_name(*found, kinds) for found, kinds in known.items() if found[0] == size)
        hint = "several threads of this size: name the threads per inch" if matches else "threads of ASME B1.1"
        raise NotInCatalogue("thread", text, here, hint)
    (found_size, n), kinds = matches[0]
    return inch_thread(size_in_inch(found_size) * INCH, n, _inch_name(found_size, n, kinds))


def _inch_name(size: str, n: float, series: tuple[str, ...]) -> str:
    return f"{size}-{n:g} {'UN' if series[0] == '8UN' else series[0]}"


def necked_diameter(size: ThreadSize) -> float:
    """Reduced shank d_T = 0.9 d3 in m (VDI 2230-1 Table A2 convention, from memory)."""
    return 0.9 * size.d3


def stress_diameter(size: ThreadSize) -> Num:
    """d_0 of the stress area in m; for a metric thread (d2 + d3)/2."""
    return sqrt(4 * size.A_s / math.pi)
