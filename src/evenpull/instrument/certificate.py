"""Calibration certificates: their points, what can be wrong with them, and the curve they give.

Values in SI, uncertainties as shares of the reference value. Nothing is repaired: a certificate is taken as a whole
or refused with every fault, each with the point it stands at.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from evenpull.instrument.deviation import DeviationCurve, relative_deviation

Direction = Literal["clockwise", "anticlockwise", "either"]  # either: a device that does not turn (gauge, rule)
Stage = Literal["as found", "as left"]
DIRECTIONS: tuple[Direction, ...] = ("clockwise", "anticlockwise", "either")
STAGES: tuple[Stage, ...] = ("as found", "as left")
UNLIKELY = 0.30  # a deviation beyond this is more likely a mixed-up unit or column than a tool (practice, no source)


@dataclass(frozen=True, slots=True)
class Entry:
    """One point as it stands in a certificate, before it is checked; None or "" where nothing stands.

    `nominal` is the point that was asked for, `indicated` what the instrument showed or was set to, `reference` what
    the standard showed. `uncertainty` is the expanded relative uncertainty W with coverage factor `k`.
    """

    nominal: float | None
    indicated: float | None
    reference: float | None
    direction: str
    stage: str
    uncertainty: float | None
    k: float | None = 2.0


@dataclass(frozen=True, slots=True)
class Point:
    """One point of a certificate that was checked. `w` is the relative standard uncertainty W/k."""

    nominal: float
    indicated: float
    reference: float
    direction: Direction
    stage: Stage
    W: float
    k: float

    @property
    def a(self) -> float:
        return float(relative_deviation(self.indicated, self.reference))

    @property
    def w(self) -> float:
        return self.W / self.k


@dataclass(frozen=True, slots=True)
class Fault:
    """`point` counts from 1, None where the fault is of the certificate; `field` names what stands wrong there."""

    point: int | None
    field: str
    message: str
    way_out: str

    def __str__(self) -> str:
        place = "certificate" if self.point is None else f"point {self.point}"
        return f"{place}, {self.field}: {self.message}; {self.way_out}"


class CertificateError(ValueError):
    """A certificate that cannot be taken; `faults` holds all of them."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


@dataclass(frozen=True)
class Certificate:
    """One calibration. `standards` are the ids of the reference standards; `replaces` the certificate that ends with
    it, "" for none. Valid from the first to the last day, both included."""

    id: str
    calibrated: date
    valid_from: date
    valid_until: date
    standards: tuple[str, ...]
    points: tuple[Point, ...]
    replaces: str = ""

    def of(self, stage: Stage, direction: Direction) -> tuple[Point, ...]:
        """The points of one stage and direction, in rising order; () where there are none."""
        return tuple(p for p in self.points if p.stage == stage and p.direction == direction)

    def curve(self, stage: Stage, direction: Direction) -> DeviationCurve | None:
        """Deviation over the indicated value; None where the certificate says nothing of this stage and direction.

        Whoever did not adjust the instrument has as-found points only: they are what it was left with. Points of
        "either" serve both directions.
        """
        if stage == "as left" and not any(p.stage == "as left" for p in self.points):
            stage = "as found"
        found = self.of(stage, direction) or self.of(stage, "either")
        if not found:
            return None
        return DeviationCurve(tuple(p.indicated for p in found), tuple(p.a for p in found), tuple(p.w for p in found))


def certificate(
    id: str, calibrated: date, valid_from: date, valid_until: date, standards: Sequence[str],
    entries: Sequence[Entry], replaces: str = "",
) -> Certificate:
    """The certificate that was entered. CertificateError with every fault at once; see `point_faults`."""
    faults = list(_head_faults(id, calibrated, valid_from, valid_until, standards, entries, replaces))
    faults += point_faults(entries)
    if faults:
        raise CertificateError(faults)
    points = tuple(_point(entry) for entry in entries)
    return Certificate(id, calibrated, valid_from, valid_until, tuple(standards), points, replaces)


def _head_faults(
    id: str, calibrated: date, valid_from: date, valid_until: date, standards: Sequence[str],
    entries: Sequence[Entry], replaces: str,
) -> Iterator[Fault]:
    if not id.strip():
        yield Fault(None, "id", "the certificate has no number", "enter the number printed on it")
    if valid_from < calibrated:
        yield Fault(None, "valid_from", f"it is valid from {valid_from}, before the calibration on {calibrated}",
                    f"{calibrated} or later")
    if valid_until < valid_from:
        yield Fault(None, "valid_until", f"it ends on {valid_until}, before its first day {valid_from}",
                    f"{valid_from} or later")
    if not any(standard.strip() for standard in standards):
        yield Fault(None, "standards", "no reference standard is named, so a bad one could not be traced to this tool",
                    "enter the id of each reference standard")
    if replaces and replaces == id:
        yield Fault(None, "replaces", f"{id} cannot replace itself", "the number of the earlier certificate, or none")
    if not entries:
        yield Fault(None, "points", "there are no points", "enter the as-found and the as-left points")


def point_faults(entries: Sequence[Entry]) -> list[Fault]:
    """What is wrong with the points: missing or impossible values, wrong sign, missing direction or uncertainty,
    points entered twice, points out of order within their stage and direction, "either" beside a direction."""
    faults: list[Fault] = []
    before: dict[tuple[str, str], tuple[int, Entry]] = {}
    nominals: dict[tuple[str, str, float], int] = {}
    for number, entry in enumerate(entries, start=1):
        own = list(_own_faults(number, entry))
        faults += own
        if own:
            continue
        assert entry.nominal is not None
        series = (entry.stage, entry.direction)
        beside = next((other for other in before if other[0] == entry.stage
                       and (other[1] == "either") != (entry.direction == "either")), None)
        if beside is not None:
            faults.append(Fault(number, "direction", f"{entry.direction} stands beside {beside[1]} at point "
                                f"{before[beside][0]}: a device turns or does not", "one or the other for all points"))
            continue
        first = nominals.setdefault((*series, entry.nominal), number)
        if first != number:
            faults.append(Fault(number, "nominal", f"{entry.nominal:.6g} stands {entry.stage}, {entry.direction} a "
                                f"second time; it is point {first} already", "one point for each nominal value: the "
                                "mean of its readings"))
            continue
        if series in before:
            faults += _order_faults(number, entry, *before[series])
        before[series] = (number, entry)
    return faults


def _own_faults(number: int, entry: Entry) -> Iterator[Fault]:
    signs = set()
    for name in ("nominal", "indicated", "reference"):
        value: float | None = getattr(entry, name)
        if value is None or not math.isfinite(value):
            yield Fault(number, name, "no number stands here" if value is None else f"{value} is not a number",
                        "enter the value as printed, with its unit")
        elif value == 0:
            yield Fault(number, name, "zero gives no relative deviation", "leave the zero point out")
        else:
            signs.add(value > 0)
    if len(signs) == 2:
        yield Fault(number, "reference", f"nominal, indicated and reference have different signs ({entry.nominal}, "
                    f"{entry.indicated}, {entry.reference})", "all three above zero; the direction says which way")
    elif signs == {False}:
        yield Fault(number, "indicated", f"{entry.indicated} is negative", "values greater than zero; the direction "
                    "says which way the tool was turned")
    if entry.direction not in DIRECTIONS:
        yield Fault(number, "direction", f"{entry.direction!r} is not a direction" if entry.direction else
                    "the direction is missing", "clockwise or anticlockwise; either for a device that does not turn")
    if entry.stage not in STAGES:
        yield Fault(number, "stage", f"{entry.stage!r} is not a stage" if entry.stage else "the stage is missing",
                    "as found (before any adjustment) or as left (after it)")
    if entry.uncertainty is None:
        yield Fault(number, "uncertainty", "the uncertainty is missing: without it nothing can be judged with this "
                    "point", "the expanded uncertainty as a share of the value, with its coverage factor")
    elif not 0 < entry.uncertainty < 1:
        yield Fault(number, "uncertainty", f"{entry.uncertainty} cannot be an expanded relative uncertainty",
                    "a share greater than 0 and below 1, such as 0.01 for 1 %")
    if entry.k is None or not 1 <= entry.k <= 10:
        yield Fault(number, "k", f"{entry.k} cannot be the coverage factor", "the coverage factor stated, 2 as a rule")


def _order_faults(number: int, entry: Entry, before: int, earlier: Entry) -> Iterator[Fault]:
    assert entry.nominal is not None and earlier.nominal is not None
    assert entry.indicated is not None and earlier.indicated is not None
    if entry.nominal < earlier.nominal:
        yield Fault(number, "nominal", f"{entry.nominal:.6g} is out of order: point {before} before it "
                    f"({entry.stage}, {entry.direction}) is {earlier.nominal:.6g}", "points in rising order")
    elif entry.indicated <= earlier.indicated:
        yield Fault(number, "indicated", f"{entry.indicated:.6g} does not rise over {earlier.indicated:.6g} at point "
                    f"{before} before it ({entry.stage}, {entry.direction})", "compare both lines with the certificate")


def doubts(points: Sequence[Point]) -> tuple[Fault, ...]:
    """What can be true but is more often a slip of the pen; for a person to confirm, nothing is refused.

    A deviation beyond `UNLIKELY` (a mixed-up unit makes 36 % or more), an indicated value further than that from its
    nominal, a reference value that falls while the indication rises.
    """
    found: list[Fault] = []
    before: dict[tuple[str, str], tuple[int, Point]] = {}
    for number, point in enumerate(points, start=1):
        if abs(point.a) > UNLIKELY:
            found.append(Fault(number, "reference", f"the deviation is {100 * point.a:+.3g} %", "confirm the units of "
                               "both columns, or that the tool is broken"))
        if abs(point.indicated / point.nominal - 1) > UNLIKELY:
            found.append(Fault(number, "indicated", f"{point.indicated:.6g} is far from the nominal "
                               f"{point.nominal:.6g}", "confirm that the line is the right one"))
        series = (point.stage, point.direction)
        if series in before and point.reference <= before[series][1].reference:
            at, earlier = before[series]
            found.append(Fault(number, "reference", f"{point.reference:.6g} is not above {earlier.reference:.6g} at "
                               f"point {at}, although the indication rises", "confirm both lines"))
        before[series] = (number, point)
    return tuple(found)


def _point(entry: Entry) -> Point:
    assert entry.nominal is not None and entry.indicated is not None and entry.reference is not None
    assert entry.uncertainty is not None and entry.k is not None
    return Point(
        entry.nominal, entry.indicated, entry.reference,
        entry.direction, entry.stage, entry.uncertainty, entry.k,  # type: ignore[arg-type]
    )
