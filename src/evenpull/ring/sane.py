"""What no bolted ring can be: sizes that contradict each other, named by their field before anything is built.

A slip of one digit would otherwise give a mesh without a bearing face, or loads that look like any other.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, fields, is_dataclass
from itertools import pairwise

from evenpull.ring.case import BearingFace, Flange, RingBolts, RingCase
from evenpull.ring.laws import GasketLaw, LinearLaw

LEAST_BOLTS, MOST_BOLTS = 3, 200
Field = tuple[str | int, ...]
_SAME = 1e-7  # m: as the mesh takes it
_MAY_BE_ZERO = {"length", "pipe_length", "depth", "bending", "nu"}


class RingCaseError(ValueError):
    """A case that cannot be built; `field` is the dotted name ("flanges.0.neck.at_back"), `allowed` what may stand
    there. The message says both."""

    def __init__(self, field: str, message: str, allowed: str) -> None:
        self.field, self.allowed = field, allowed
        super().__init__(f"{field}: {message}; allowed: {allowed}")


@dataclass(frozen=True, slots=True)
class Contradiction:
    """One thing that cannot be: `field` as a path ("flanges", 0, "neck", "at_back")."""

    field: Field
    message: str
    allowed: str


def check_case(case: RingCase) -> None:
    """RingCaseError with the first contradiction of the case; see `contradictions`."""
    for found in contradictions(case):
        raise RingCaseError(".".join(map(str, found.field)), found.message, found.allowed)


def contradictions(case: RingCase) -> Iterator[Contradiction]:
    """Everything about the case that cannot be. Where single numbers are wrong in themselves, only those are named:
    nothing can be compared with them."""
    alone = [*_numbers(case.bolts, ("bolts",)), *_law(case.facing.law)]
    for side in (0, 1):
        alone.extend(_numbers(case.flanges[side], ("flanges", side)))
    alone.extend(_numbers(case.facing, ("facing",)))
    yield from alone
    if alone:
        return
    yield from _bolts(case)
    for side in (0, 1):
        yield from _flange(case, side)
    yield from _facing(case)


def mm(length: float) -> str:
    return f"{1e3 * length:.6g} mm"


def _numbers(thing: object, path: Field) -> Iterator[Contradiction]:
    """Every number is finite and above zero (or zero, where that leaves something out)."""
    if not is_dataclass(thing):
        return
    for field in fields(thing):
        value, here = getattr(thing, field.name), (*path, field.name)
        if value is None or isinstance(value, GasketLaw | LinearLaw | bool | str):
            continue
        if is_dataclass(value):
            yield from _numbers(value, here)
        elif not isinstance(value, int | float) or not math.isfinite(value):
            yield Contradiction(here, f"{value!r} is not a finite number", "a finite number in SI")
        elif value < 0 or (value == 0 and field.name not in _MAY_BE_ZERO):
            zero = field.name in _MAY_BE_ZERO
            yield Contradiction(
                here,
                f"{value:g} is not {'zero or ' if zero else ''}more than zero",
                "zero or more" if zero else "more than zero",
            )


def _law(law: GasketLaw | LinearLaw) -> Iterator[Contradiction]:
    path: Field = ("facing", "law")
    if isinstance(law, LinearLaw):
        if not 0 < law.stiffness < math.inf:
            yield Contradiction(
                (*path, "stiffness"),
                f"a stiffness of {law.stiffness} Pa/m holds nothing apart",
                "finite and more than zero",
            )
        return
    yield from curve_contradictions(law.curve, law.unloading)


def curve_contradictions(curve: tuple[tuple[float, float], ...], unloading: float) -> Iterator[Contradiction]:
    """What cannot be about a loading curve, (compression m, pressure Pa), and its unloading stiffness (Pa/m)."""
    path: Field = ("facing", "law", "curve")
    if len(curve) < 2:
        yield Contradiction(path, f"{len(curve)} points are no curve", "(0, 0) and at least one more point")
        return
    if not all(math.isfinite(number) for point in curve for number in point):
        yield Contradiction(path, "the curve holds a number that is not finite", "finite numbers")
        return
    if curve[0] != (0.0, 0.0):
        yield Contradiction(
            (*path, 0),
            f"the curve begins at {mm(curve[0][0])} and {curve[0][1] / 1e6:g} MPa: a gasket "
            "that is not pressed has no pressure",
            "0 and 0 as the first point",
        )
    steepest = 0.0
    for number, ((w, p), (w_next, p_next)) in enumerate(pairwise(curve), start=1):
        if not w_next > w:
            yield Contradiction(
                (*path, number),
                f"the compression goes from {mm(w)} to {mm(w_next)}",
                "a larger compression at each point than at the one before",
            )
            return
        if not p_next > p:
            yield Contradiction(
                (*path, number),
                f"the pressure goes from {p / 1e6:g} MPa to {p_next / 1e6:g} MPa: a "
                "loading curve that falls or stays level cannot be pressed in a definite way",
                f"more than {p / 1e6:g} MPa",
            )
            return
        steepest = max(steepest, (p_next - p) / (w_next - w))
    if not steepest * (1 - 1e-9) <= unloading < math.inf:
        yield Contradiction(
            (*path[:-1], "unloading"),
            f"an unloading stiffness of {unloading / 1e9:.6g} MPa/mm is below "
            f"the steepest part of the loading curve, {steepest / 1e9:.6g} MPa/mm: the gasket would give "
            "back more than was put in",
            f"at least {steepest / 1e9:.6g} MPa/mm",
        )


def _bolts(case: RingCase) -> Iterator[Contradiction]:
    bolts = case.bolts
    if isinstance(bolts.count, bool) or int(bolts.count) != bolts.count:
        yield Contradiction(
            ("bolts", "count"), f"{bolts.count} is not a whole number", f"{LEAST_BOLTS} to {MOST_BOLTS}"
        )
        return
    if bolts.count < LEAST_BOLTS:
        yield Contradiction(
            ("bolts", "count"),
            f"{bolts.count} bolts do not hold two flanges parallel: with fewer than "
            f"{LEAST_BOLTS} the flanges tip, which this model does not follow",
            f"{LEAST_BOLTS} to {MOST_BOLTS}",
        )
    if bolts.count > MOST_BOLTS:
        yield Contradiction(
            ("bolts", "count"),
            f"{bolts.count} bolts are more than the model is made for",
            f"{LEAST_BOLTS} to {MOST_BOLTS}",
        )
    if bolts.limit is not None and bolts.limit < bolts.target:
        yield Contradiction(
            ("bolts", "target"),
            f"the target of {bolts.target / 1e3:.6g} kN is above the limit that no "
            f"bolt may exceed, {bolts.limit / 1e3:.6g} kN",
            f"at most {bolts.limit / 1e3:.6g} kN",
        )


def spacing(bolts: RingBolts) -> float:
    """Straight distance (m) of two neighbouring bolts."""
    return bolts.bolt_circle * math.sin(math.pi / bolts.count)


def _flange(case: RingCase, side: int) -> Iterator[Contradiction]:
    flange, r_b = case.flanges[side], case.bolts.bolt_circle / 2
    path: Field = ("flanges", side)
    if flange.nu >= 0.5:
        yield Contradiction((*path, "nu"), f"Poisson's ratio of {flange.nu:g}", "0 to less than 0.5")
    if flange.outside_diameter <= flange.bore:
        yield Contradiction(
            (*path, "outside_diameter"),
            f"an outside diameter of {mm(flange.outside_diameter)} leaves nothing round a bore of {mm(flange.bore)}",
            f"more than {mm(flange.bore)}",
        )
        return
    if not flange.bore / 2 < r_b < flange.outside_diameter / 2:
        yield Contradiction(
            ("bolts", "bolt_circle"),
            f"a bolt circle of {mm(2 * r_b)} does not lie in the ring from "
            f"{mm(flange.bore)} to {mm(flange.outside_diameter)}",
            "between bore and outside diameter",
        )
        return
    yield from _end(case, flange, (*path, "end"))
    yield from _raised_face(flange, (*path, "raised_face"))
    yield from _neck(case, flange, (*path, "neck"))


def _end(case: RingCase, flange: Flange, path: Field) -> Iterator[Contradiction]:
    bolts, end = case.bolts, flange.end
    r_b, apart = bolts.bolt_circle / 2, spacing(bolts)
    if isinstance(end, BearingFace):
        width, name, what = end.d_w, "d_w", "bearing face"
        if end.d_h <= bolts.d:
            yield Contradiction(
                (*path, "d_h"),
                f"a hole of {mm(end.d_h)} does not take a bolt of {mm(bolts.d)}",
                f"more than {mm(bolts.d)}",
            )
        if end.d_w <= end.d_h:
            yield Contradiction(
                (*path, "d_w"),
                f"a bearing face of {mm(end.d_w)} falls through the hole of {mm(end.d_h)}",
                f"more than {mm(end.d_h)}",
            )
    else:
        width, name, what = end.d, "d", "tapped hole"
        if not bolts.d * (1 - 1e-6) <= end.d <= 2 * bolts.d:
            yield Contradiction(
                (*path, "d"),
                f"a tapped hole of {mm(end.d)} does not take a thread of {mm(bolts.d)}",
                f"{mm(bolts.d)}, with a thread insert up to {mm(2 * bolts.d)}",
            )
        if end.depth + end.engagement > flange.back + _SAME:
            yield Contradiction(
                (*path, "engagement"),
                f"the thread would end {mm(end.depth + end.engagement)} below the "
                f"contact face of a flange of {mm(flange.back)}",
                f"at most {mm(max(flange.back - end.depth, 0.0))} with this counterbore",
            )
        face = flange.raised_face
        if face is not None and end.depth < face.height - _SAME and face.outside_diameter / 2 < r_b + end.d / 2:
            yield Contradiction(
                (*path, "depth"),
                f"the thread would begin {mm(end.depth)} below the contact face, in the air beside the raised face",
                f"at least the height of the raised face, {mm(face.height)}",
            )
        if all(not isinstance(one.end, BearingFace) for one in case.flanges):
            yield Contradiction(
                path,
                "both flanges have a tapped hole: nothing could be turned to pull the bolts",
                "a bearing face on one side",
            )
    edge = flange.outside_diameter / 2 - r_b
    for room, place in ((edge, "outside diameter"), (r_b - flange.bore / 2, "bore")):
        if width / 2 > room + _SAME:
            yield Contradiction(
                (*path, name),
                f"a {what} of {mm(width)} reaches over the edge at the {place}: there are "
                f"{mm(room)} between bolt axis and edge",
                f"at most {mm(2 * room)}",
            )
    if width > apart + _SAME:
        yield Contradiction(
            ("bolts", "count"),
            f"{bolts.count} bolts stand {mm(apart)} apart, each {what} is {mm(width)} wide: neighbours overlap",
            f"at most {_most(bolts.bolt_circle, width)} on this bolt circle",
        )


def _most(circle: float, width: float) -> int:
    return int(math.pi / math.asin(min(1.0, width / circle)) + 1e-9)


def _raised_face(flange: Flange, path: Field) -> Iterator[Contradiction]:
    face = flange.raised_face
    if face is None:
        return
    inside = flange.bore if face.inside_diameter is None else face.inside_diameter
    if inside < flange.bore - _SAME:
        yield Contradiction(
            (*path, "inside_diameter"),
            f"the raised face begins at {mm(inside)}, inside the bore of {mm(flange.bore)}",
            f"at least {mm(flange.bore)}",
        )
    if not inside < face.outside_diameter <= flange.outside_diameter + _SAME:
        yield Contradiction(
            (*path, "outside_diameter"),
            f"a raised face of {mm(face.outside_diameter)} does not lie "
            "between its inside and the outside of the flange",
            f"more than {mm(inside)}, at most {mm(flange.outside_diameter)}",
        )


def _neck(case: RingCase, flange: Flange, path: Field) -> Iterator[Contradiction]:
    """A neck stands clear of the bearing face; over a tapped hole, which ends in the ring, it may stand."""
    neck, circle = flange.neck, case.bolts.bolt_circle
    if neck is None:
        return
    inside = neck.side == "inside"
    room = (circle - flange.bore) / 2 if inside else (flange.outside_diameter - circle) / 2
    what = "hub" if inside else "shell"
    width = flange.end.d_w if isinstance(flange.end, BearingFace) else 0.0
    if neck.at_back >= room:
        reach = flange.bore + 2 * neck.at_back if inside else flange.outside_diameter - 2 * neck.at_back
        yield Contradiction(
            (*path, "at_back"),
            f"the {what} reaches to {mm(reach)}, past the bolt circle of {mm(circle)}",
            f"less than {mm(room - width / 2)} at the back of the ring",
        )
    elif neck.at_back > room - width / 2 + _SAME:
        yield Contradiction(
            (*path, "at_back"),
            f"the {what}, {mm(neck.at_back)} thick at the back of the ring, reaches "
            f"into the bearing face of {mm(width)}",
            f"at most {mm(room - width / 2)}",
        )
    if neck.length > 0 and neck.at_back < neck.wall - _SAME:
        yield Contradiction(
            (*path, "at_back"),
            f"the hub is {mm(neck.at_back)} thick, thinner than the wall of {mm(neck.wall)} that it tapers to",
            f"at least {mm(neck.wall)}",
        )
    if neck.length == 0 and abs(neck.at_back - neck.wall) > _SAME:
        yield Contradiction(
            (*path, "wall"),
            f"without a taper the neck cannot be {mm(neck.at_back)} at the ring and {mm(neck.wall)} above it",
            f"{mm(neck.at_back)}, or a length of the taper",
        )
    if neck.length == 0 and neck.pipe_length == 0:
        yield Contradiction((*path, "pipe_length"), "a neck without any length is none", "a length, or no neck")


def _facing(case: RingCase) -> Iterator[Contradiction]:
    facing, r_b = case.facing, case.bolts.bolt_circle / 2
    low, high = facing.inside_diameter / 2, facing.outside_diameter / 2
    what = "contact face" if facing.metal else "gasket"
    path: Field = ("facing",)
    if high <= low:
        yield Contradiction(
            (*path, "outside_diameter"),
            f"a {what} from {mm(2 * low)} to {mm(2 * high)} has no width",
            f"more than {mm(2 * low)}",
        )
        return
    if low >= r_b:
        yield Contradiction(
            (*path, "inside_diameter"),
            f"the {what} lies outside the bolts: it begins at {mm(2 * low)}, the bolt circle is {mm(2 * r_b)}",
            f"less than {mm(2 * r_b)}",
        )
        return
    for side, flange in enumerate(case.flanges):
        face = flange.raised_face
        inner, outer, name = flange.bore, flange.outside_diameter, f"flange {side + 1}"
        if face is not None:
            inner = flange.bore if face.inside_diameter is None else face.inside_diameter
            outer, name = face.outside_diameter, f"the raised face of flange {side + 1}"
        if 2 * low < inner - _SAME:
            yield Contradiction(
                (*path, "inside_diameter"),
                f"the {what} begins at {mm(2 * low)}, inside {name}, which begins at {mm(inner)}",
                f"at least {mm(inner)}",
            )
        if 2 * high > outer + _SAME:
            yield Contradiction(
                (*path, "outside_diameter"),
                f"the {what} reaches to {mm(2 * high)}, {name} only to {mm(outer)}",
                f"at most {mm(outer)}",
            )
        end = flange.end
        radius = (end.d_h if isinstance(end, BearingFace) else end.d) / 2
        if r_b - radius + _SAME < high < r_b + radius - _SAME:
            yield Contradiction(
                (*path, "outside_diameter"),
                f"the {what} ends at {mm(2 * high)}, in the middle of the bolt holes of flange {side + 1}",
                f"at most {mm(2 * (r_b - radius))}, or a full face of at least {mm(2 * (r_b + radius))}",
            )
        if low > r_b - radius + _SAME:
            yield Contradiction(
                (*path, "inside_diameter"),
                f"the {what} begins at {mm(2 * low)}, in the middle of the bolt holes of flange {side + 1}",
                f"at most {mm(2 * (r_b - radius))}",
            )
