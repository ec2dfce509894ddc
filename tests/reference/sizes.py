"""Threads and sizes as reference rows write them."""

from __future__ import annotations

import re

from evenpull import catalogue, joint
from tests.reference.given import AREA_AS_PRINTED, INCH, Given, NotEvaluatedError, agree

_CLASS = r"\d{1,2}[a-hA-H](?:\d{1,2}[a-hA-H])?"
_METRIC_TOLERANCE = re.compile(rf"(M\s*[\d.]+(?:\s*[xX×*]\s*[\d.]+)?)\s*-\s*{_CLASS}(?:\s*/\s*{_CLASS})?")
_INCH_TOLERANCE = re.compile(r"(.*\d.*?)[\s-]*[123][AB]")
_METRIC = re.compile(r"M\s*([\d.]+)(?:\s*[xX×*]\s*([\d.]+))?")
_INCH = re.compile(r"(#?\d+(?:-\d+/\d+|/\d+)?)\s*-\s*(\d+(?:\.\d+)?)\s*-?\s*[A-Z]*")
THREAD_KEYS = ("thread", "size", "designation")


def without_tolerance(text: str) -> str:
    """"M16-6g" is the thread "M16", "1/2-13 UNC-2A" is "1/2-13 UNC": the tolerance leaves the basic size as it is."""
    plain = text.strip()
    match = _METRIC_TOLERANCE.fullmatch(plain) or (None if plain.startswith("M") else _INCH_TOLERANCE.fullmatch(plain))
    return match[1] if match else plain


def _stated(given: Given, text: str) -> tuple[float | None, float | None]:
    """Diameter and pitch (m) written in a designation that is not in the tables; None for what it does not say."""
    if match := _METRIC.fullmatch(text):
        return float(match[1]) * 1e-3, float(match[2]) * 1e-3 if match[2] else None
    if match := _INCH.fullmatch(text):
        d = None if match[1].startswith("#") else inches(match[1]) * INCH
        return d, INCH / float(match[2])
    raise given.error(f"the thread {text!r} is not understood")


def thread_size(given: Given, system: str | None) -> joint.ThreadSize | None:
    """The thread from its designation, or from diameter and pitch; what is given twice has to agree.

    `system` "metric" or "inch" is required of it; None takes both. None when the row names no thread at all, or only
    a diameter.
    """
    names = [without_tolerance(text) for text in given.texts(*THREAD_KEYS)]
    d = given.si("length", "d", "D")
    pitch = given.measure("length", "P", "p", "pitch")
    P, in_inch = (None, False) if pitch is None else (pitch.si, pitch.unit == "in")
    if system != "metric" and (n := given.number("n", "tpi", "TPI")) is not None:
        if P is not None and not agree(P, INCH / n):
            raise given.error("pitch and threads per inch do not agree")
        P, in_inch = INCH / n, True
    sizes = []
    for name in names:
        try:
            sizes.append(joint.thread(name))
        except catalogue.NotInCatalogue:
            if d is None or P is None:
                raise
            stated_d, stated_P = _stated(given, name)
            if not agree(stated_d or d, d) or not agree(stated_P or P, P):
                raise given.error(f"the thread {name!r} and its numbers do not agree") from None
    if d is not None and P is not None and not sizes:
        inch = system == "inch" or (system is None and (in_inch or any(not name.startswith("M") for name in names)))
        sizes = [joint.inch_thread(d, INCH / P) if inch else joint.metric_thread(d, P)]
    for size in sizes:
        if not agree(size.d, sizes[0].d) or not agree(size.P, sizes[0].P):
            raise given.error("the designations of the thread do not agree")
        if not agree(size.d, d or size.d) or not agree(size.P, P or size.P):
            raise given.error(f"the thread {size.designation} and its numbers do not agree")
        if system is not None and size.system != system:
            raise given.error(f"only {system} threads are covered here: {size.designation} is not one")
    return sizes[0] if sizes else None


def needed_thread(given: Given, system: str | None) -> joint.ThreadSize:
    return given.need(thread_size(given, system), "the thread (a designation, or diameter and pitch)")


def check_area(given: Given, size: joint.ThreadSize) -> None:
    """A stress area printed beside the thread has to be the thread's."""
    area = given.si("area", "As_nom", "As", "A_s", "At", "A_t")
    if area is not None and not agree(area, size.A_s, AREA_AS_PRINTED):
        raise given.error(f"the stress area is not that of {size.designation}, {size.A_s * 1e6:.4g} mm2")


_SIZE = r"(\d+-\d+/\d+|\d+/\d+|\d+(?:\.\d+)?)"


def inches(text: str) -> float:
    """"1-1/2", "3/4", "2.5" in inch."""
    whole, _, fraction = text.rpartition("-")
    if "/" in fraction:
        above, below = fraction.split("/")
        if int(below) == 0:
            raise NotEvaluatedError(f"size {text!r} divides by zero")
        return float(whole or 0) + int(above) / int(below)
    return float(text)


Range = tuple[float | None, float | None]  # lowest and largest diameter in m; None where it is open


def size_range(text: str) -> Range:
    """Range of diameters as the tables write it: "1/4-3/4", "over 1-1-1/2", "<=2-1/2", "over 4", "3/4", "all"."""
    t = re.sub(r"\s*(?:in\.?|inch|incl\.?)\s*$", "", " ".join(text.split()).casefold())
    t = re.sub(r"\s+(?:to|thru|through)\s+", "-", t)
    if t == "all":
        return None, None
    if match := re.fullmatch(rf"(?:<=|≤|to|up to)\s*{_SIZE}", t):
        return None, inches(match[1]) * INCH
    if match := re.fullmatch(rf"<\s*{_SIZE}", t):
        return None, inches(match[1]) * INCH * (1 - 1e-4)
    if match := re.fullmatch(rf"(?:over|above|>)\s*{_SIZE}", t):
        return inches(match[1]) * INCH * (1 + 1e-4), None
    if match := re.fullmatch(_SIZE, t):
        return inches(match[1]) * INCH, inches(match[1]) * INCH
    if match := re.fullmatch(rf"(over |above |> ?)?{_SIZE}\s*-\s*{_SIZE}", t):
        low, high = inches(match[2]), inches(match[3])
        if low < high:
            return low * INCH * (1 + 1e-4 if match[1] else 1), high * INCH
    raise NotEvaluatedError(f"size range {text!r} is not understood")


def class_and_range(text: str) -> tuple[str, Range]:
    """"8.8 d<=16" -> ("8.8", (None, 0.016)); without a limit the range is open on both sides."""
    limit = r"\(?,?\s*(?:M|d)?\s*(?P<sign><=|<|>=|>|≤|≥)\s*(?:M\s*)?(?P<d>\d+(?:\.\d+)?)\s*(?:mm)?\)?"
    match = re.fullmatch(rf"\s*(?P<class>[^\s<>≤≥]+)(?:\s*{limit})?\s*", text)
    if match is None:
        raise NotEvaluatedError(f"class {text!r} is not understood")
    if match["d"] is None:
        return match["class"], (None, None)
    d = float(match["d"]) * 1e-3
    low_high: dict[str, Range] = {
        "<=": (None, d), "≤": (None, d), "<": (None, d * (1 - 1e-4)),
        ">=": (d, None), "≥": (d, None), ">": (d * (1 + 1e-4), None),
    }
    return match["class"], low_high[match["sign"]]


def within(d: float, limits: Range) -> bool:
    low, high = limits
    return (low is None or d >= low * (1 - 1e-9)) and (high is None or d <= high * (1 + 1e-9))


def head_kind(given: Given) -> str | None:
    """The kind of metric head or nut that the quantity names; None when it names none."""
    if given.says("countersunk", "set screw", "button", "heavy", "structural", "grade c", "inch", "square"):
        raise given.error("this kind of head is not covered")
    if given.says("socket"):
        return "socket cap"
    if given.says("flange", "flanged"):
        if given.says("nuts?"):
            raise given.error("flanged nuts are not covered")
        return "flanged hexagon"
    if given.says("nuts?"):
        return "hexagon nut"
    if given.says("hexagon", "hex"):
        return "hexagon grade B" if given.says("grade b") else "hexagon"
    return None


def hole_series(given: Given) -> str | None:
    found = [series for series in catalogue.HOLE_SERIES if given.says(series)]
    if len(found) > 1:
        raise given.error("more than one series of holes is named")
    return found[0] if found else None
