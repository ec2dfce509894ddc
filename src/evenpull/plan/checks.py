"""What the values of a joint file say together: sizes that cannot be, contradictions, words no table knows.

Each check notes its faults in the `Source`; values that are missing or wrong in themselves are None here and were
noted before, so every check works with what is left.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from difflib import get_close_matches

from evenpull.catalogue.cautions import CAUTIONS
from evenpull.catalogue.heads import HOLE_SERIES
from evenpull.catalogue.tables import NotInCatalogue
from evenpull.joint.parts.strengths import strength
from evenpull.joint.parts.threads import thread
from evenpull.joint.target import Strength, ThreadSize
from evenpull.plan.bearing import bearing_face, hole_diameter
from evenpull.plan.friction import lubricant_names
from evenpull.plan.own_settings import check_settings
from evenpull.plan.proof_checks import check_proof
from evenpull.plan.schema import (
    ClampedTable,
    FastenersTable,
    FrictionTable,
    NotesTable,
    ProcedureTable,
    TargetTable,
    ToolsTable,
)
from evenpull.plan.toml_text import Known, Source
from evenpull.plan.unstated import check_unstated, is_open
from evenpull.quantities import Measured, UnitError, show, unit_slips

NUT_HEIGHT = 0.8  # of d: ISO 4032 style 1, about m / d; from memory, not re-read
ABSURD = 10.0  # times the torque or load that breaks the fastener: a slip, not an overload


def check_together(source: Source) -> None:
    """Note everything that is wrong between the keys of a joint file."""
    data = source.data

    def table(name: str) -> object:
        return data.get(name)

    fasteners = Known(FastenersTable, table("fasteners"))
    clamped_raw = table("clamped")
    clamped = [Known(ClampedTable, item) for item in clamped_raw] if isinstance(clamped_raw, list) else []
    target = Known(TargetTable, table("target"))
    friction = Known(FrictionTable, table("friction"))
    unknown = check_unstated(source, fasteners, clamped, friction, target)
    size, material = (None, None) if unknown else _catalogue(source, fasteners)
    _counterpart(source, fasteners)
    _lengths(source, fasteners, clamped, size)
    _hole(source, fasteners, size)
    _pattern(source, fasteners, size)
    if not unknown:
        _friction(source, friction)
    _target(source, target)
    _absurd(source, target, size, material)
    _procedure(source, Known(ProcedureTable, table("procedure")), fasteners.count)
    check_settings(source, Known(ProcedureTable, table("procedure")), target, fasteners.count)
    if Known(ToolsTable, table("tools")).allowed == ():
        source.fault(("tools", "allowed"), [], "no tool is allowed, so nobody can tighten",
                     "at least one serial of the tool register")
    _cautions(source, Known(NotesTable, table("notes")))
    check_proof(source)


def _catalogue(source: Source, f: Known) -> tuple[ThreadSize | None, Strength | None]:
    size: ThreadSize | None = None
    if f.thread is not None:
        try:
            size = thread(f.thread)
        except NotInCatalogue as error:
            near = f"; did you mean {error.allowed[0]}?" if error.allowed else ""
            source.fault(("fasteners", "thread"), f.thread, f"{f.thread!r} is not a standard thread{near}",
                         ", ".join(error.allowed) + (f" ({error.hint})" if error.hint else "")
                         + ', or "not stated" together with class')
    if size is None or f.strength_class is None or is_open(f.strength_class):
        return size, None
    place = ("fasteners", "class")
    standard = _standard_of(f.strength_class)
    if (standard, size.system) in (("metric", "inch"), ("inch", "metric")):
        source.fault(place, f.strength_class, f"{f.strength_class!r} belongs to {standard} threads, {f.thread} is "
                     f"{'a metric' if size.system == 'metric' else 'an inch'} thread",
                     "4.6 to 12.9 or A2-70 ... (ISO 898-1, ISO 3506-1)" if size.system == "metric" else
                     "SAE J429 grade 2, 5, 8 or an ASTM grade such as A193 B7")
        return size, None
    try:
        return size, strength(f.strength_class, size)
    except NotInCatalogue as error:
        alike = get_close_matches(f.strength_class, error.allowed, 1, 0.5)
        proposed = f"; did you mean {alike[0]!r}?" if alike else ""
        allowed = ", ".join(error.allowed) + (f" ({error.hint})" if error.hint else "")
        source.fault(place, f.strength_class, f"{error.asked!r} is not a {error.what} in the tables{proposed}", allowed)
    return size, None


def _standard_of(designation: str) -> str:
    """"metric" for a property class of ISO 898-1, "inch" for a grade of SAE J429, "" for what serves both."""
    if re.fullmatch(r"\s*\d{1,2}\.\d\s*", designation):
        return "metric"
    return "inch" if re.search(r"J\s*429|SAE|grade", designation, re.IGNORECASE) else ""


def _counterpart(source: Source, f: Known) -> None:
    in_nut = f.counterpart == "nut"
    stud = f.head == "stud"
    if in_nut:
        for name in ("nut_class", "washer_under_nut"):
            if not f.has(name):
                source.fault(("fasteners", name), None, f"the key {name} is missing; the counterpart is a nut",
                             "8, 10, A4-80 ..." if name == "nut_class" else "true or false")
        for name in ("tapped_material", "engagement"):
            if f.has(name):
                source.fault(("fasteners", name), getattr(f, name), f"{name} goes with a tapped hole, but the "
                             "counterpart is a nut", 'counterpart = "tapped hole", or leave the key out')
    elif f.counterpart == "tapped hole":
        for name in ("tapped_material", "engagement"):
            if not f.has(name):
                source.fault(("fasteners", name), None, f"the key {name} is missing; the counterpart is a tapped hole",
                             "the material" if name == "tapped_material" else 'a length such as "20 mm"')
        if not stud:
            if f.has("nut_class"):
                source.fault(("fasteners", "nut_class"), f.nut_class, "nut_class goes with a nut, but the counterpart "
                             "is a tapped hole", 'counterpart = "nut", or leave the key out')
            if f.washer_under_nut is True:
                source.fault(("fasteners", "washer_under_nut"), True, "there is no nut to put a washer under: the "
                             "counterpart is a tapped hole", "leave the key out")
            if f.turned == "nut":
                source.fault(("fasteners", "turned"), f.turned, "there is no nut to turn: the counterpart is a tapped "
                             "hole", '"head"')
    if stud and f.turned == "head":
        source.fault(("fasteners", "turned"), f.turned, "a stud has no head to turn", '"nut"')


def _lengths(source: Source, f: Known, clamped: Sequence[Known], size: ThreadSize | None) -> None:
    length = f.length
    if not isinstance(length, Measured):
        return
    place = ("fasteners", "length")
    parts = [part.thickness.si for part in clamped if isinstance(part.thickness, Measured)]
    grip = sum(parts) if len(parts) == len(clamped) else None
    engagement = f.engagement if isinstance(f.engagement, Measured) else None
    if engagement is not None and engagement.si > length.si:
        source.fault(("fasteners", "engagement"), engagement, f"the engagement {engagement.text} is longer than the "
                     f"fastener ({length.text})", f"at most {length.text}")
    if grip is None or not parts:
        return
    if f.counterpart == "tapped hole" and engagement is not None and engagement.si <= length.si:
        needed, what = grip + engagement.si, f"clamped parts {show(grip, 'mm')} and engagement {engagement.text}"
    elif f.counterpart == "nut" and size is not None:
        nuts = 2 if f.head == "stud" else 1
        nut = nuts * NUT_HEIGHT * size.d
        needed, what = grip + nut, (f"clamped parts {show(grip, 'mm')} and {'two nuts' if nuts == 2 else 'nut'} "
                                    f"{show(nut, 'mm')} ({NUT_HEIGHT:g} d each)")
    else:
        needed, what = grip, f"clamped parts {show(grip, 'mm')}"
    if length.si < needed * (1 - 1e-9):
        source.fault(place, length, f"{length.text} is too short: {what} need {show(needed, 'mm')}, washers not "
                     "counted", f"at least {show(needed, 'mm')}")


def _hole(source: Source, f: Known, size: ThreadSize | None) -> None:
    if f.hole is None or is_open(f.hole) or size is None:
        return
    place = ("fasteners", "hole")
    try:
        hole = hole_diameter(f.hole, size).value
    except NotInCatalogue as error:
        source.fault(place, f.hole, f"{f.hole!r} is not known for {size.designation}: {error}",
                     "a diameter with its unit, such as 26 mm")
        return
    except UnitError as error:
        near = get_close_matches(f.hole, HOLE_SERIES, 1, 0.5)
        proposed = f"; did you mean {near[0]!r}?" if near else ""
        source.fault(place, f.hole, f"{f.hole!r} is neither a series nor a diameter: {error.reason}{proposed}",
                     "fine, medium, coarse or a diameter with its unit, such as 26 mm")
        return
    if hole <= size.d:
        source.fault(place, f.hole, f"a hole of {show(hole, 'mm')} is not larger than the thread "
                     f"{size.designation} ({show(size.d, 'mm')})", f"more than {show(size.d, 'mm')}")
        return
    if f.head is None or is_open(f.head) or f.turned is None or (f.head == "stud" and f.turned == "head"):
        return
    try:
        face = bearing_face(f.head, f.turned, size, f.bearing_face).value
    except NotInCatalogue as error:
        source.fault(("fasteners", "head"), f.head, f"no bearing face is known for the {f.turned} of {f.head!r} on "
                     f"{size.designation}: {error}", "state it: bearing_face = its outside diameter")
        return
    if hole >= face:
        source.fault(place, f.hole, f"a hole of {show(hole, 'mm')} leaves no bearing face: the {f.turned} has "
                     f"{show(face, 'mm')}", f"less than {show(face, 'mm')}")


def _pattern(source: Source, f: Known, size: ThreadSize | None) -> None:
    if f.has("circle") and f.has("grid"):
        source.fault(("fasteners", "grid"), f.grid, "circle and grid contradict each other", "one of them, or none")
    if f.grid is not None and f.count is not None and f.grid[0] * f.grid[1] != f.count:
        source.fault(("fasteners", "grid"), list(f.grid), f"{f.grid[0]} rows of {f.grid[1]} are "
                     f"{f.grid[0] * f.grid[1]} places, but count is {f.count}", "rows x columns = count")
    if f.circle is not None and f.count is not None and size is not None:
        room = math.pi * f.circle.si / f.count
        if room < size.d or f.circle.si <= size.d:
            least = max(f.count * size.d / math.pi, size.d)
            source.fault(("fasteners", "circle"), f.circle, f"{f.count} holes for {size.designation} do not fit on a "
                         f"circle of {f.circle.text}: {show(room, 'mm')} from one to the next",
                         f"more than {show(least, 'mm')}")


def _friction(source: Source, k: Known) -> None:
    stated = [name for name in ("mu_G", "mu_K", "K") if k.has(name)]
    if stated and not k.has("basis"):
        source.fault(("friction", "basis"), None, f"{', '.join(stated)} stated without saying on what it rests",
                     "a test, a certificate or a table, with its number")
    names = lubricant_names()
    known = k.lubricant in names
    for name, other in (("mu_G", "mu_K"), ("mu_K", "mu_G")):
        if k.has(name) and not k.has(other):
            source.fault(("friction", other), None, f"{name} is stated but {other} is not", "both or none")
    if k.lubricant is not None and not known and not (k.has("mu_G") or k.has("mu_K")):
        near = get_close_matches(k.lubricant, names, 1, 0.5)
        proposed = f"; did you mean {near[0]!r}?" if near else ""
        also = " (beside K, because the torsion follows from mu_G)" if k.has("K") else ""
        source.fault(("friction", "lubricant"), k.lubricant, f"{k.lubricant!r} is not in the catalogue and no mu_G "
                     f"and mu_K are stated{also}{proposed}", ", ".join(map(repr, names)))


def _target(source: Source, t: Known) -> None:
    wishes = [name for name in ("torque", "preload", "utilisation") if t.has(name)]
    if len(wishes) > 1:
        source.fault(("target", wishes[1]), getattr(t, wishes[1]), f"there are {len(wishes)} targets: "
                     f"{', '.join(wishes)}", "exactly one of torque, preload, utilisation")
    if not wishes and isinstance(source.data.get("target"), dict):
        source.fault(("target",), None, "there is no target", "exactly one of torque, preload, utilisation")
    if t.utilisation is not None and t.utilisation_limit is not None and t.utilisation > t.utilisation_limit:
        source.fault(("target", "utilisation"), t.utilisation, f"utilisation {t.utilisation:g} is above "
                     f"utilisation_limit {t.utilisation_limit:g}", f"at most {t.utilisation_limit:g}")
    if t.preload is not None and t.required_preload is not None and t.preload.si < t.required_preload.si:
        source.fault(("target", "required_preload"), t.required_preload, f"the target load {t.preload.text} is below "
                     f"the load that must be kept, {t.required_preload.text}", f"at most {t.preload.text}")
    if t.prevailing_torque is not None and t.torque is not None and t.prevailing_torque.si >= t.torque.si:
        source.fault(("target", "prevailing_torque"), t.prevailing_torque, f"the drag {t.prevailing_torque.text} is "
                     f"not less than the target {t.torque.text}", f"less than {t.torque.text}")
    if t.tolerance is not None and t.tolerance.torque is not None:
        if t.torque is None and not t.has("torque"):
            source.fault(("target", "tolerance"), t.tolerance.torque, "a tolerance in torque needs a target in torque",
                         'a share such as "5 %"')
        elif t.torque is not None and t.tolerance.torque.si > 0.3 * t.torque.si:
            source.fault(("target", "tolerance"), t.tolerance.torque, f"{t.tolerance.torque.text} is "
                         f"{100 * t.tolerance.torque.si / t.torque.si:.0f} % of the target", "at most 30 %")
    _angles(source, t)


def _angles(source: Source, t: Known) -> None:
    for name in ("angle", "angle_window"):
        if t.method == "torque and angle" and not t.has(name):
            source.fault(("target", name), None, f"the key {name} is missing; the method is torque and angle",
                         '"60 deg"' if name == "angle" else '["45 deg", "75 deg"]')
        if t.method == "torque" and t.has(name):
            source.fault(("target", name), getattr(t, name) or "", f"{name} goes with the method torque and angle, but "
                         "the method is torque", 'method = "torque and angle", or leave the key out')
    if t.angle is not None and t.angle_window is not None:
        lower, upper = t.angle_window
        if not lower.si <= t.angle.si <= upper.si:
            source.fault(("target", "angle_window"), [lower.text, upper.text], f"the angle {t.angle.text} is outside "
                         f"its own window {lower.text} to {upper.text}", "a window that holds the angle")


def _absurd(source: Source, t: Known, size: ThreadSize | None, material: Strength | None) -> None:
    """Values so far off that they are a slip of unit or size: they are refused, not only warned of."""
    if size is None or material is None:
        return
    breaking = size.A_s * material.R_m
    twist = 0.2 * breaking * size.d  # T = K d F with K = 0.2 at the breaking load: only an order of magnitude
    for name in ("torque", "prevailing_torque"):
        value = getattr(t, name)
        if value is None:
            continue
        if value.si > ABSURD * twist or (name == "torque" and value.si < twist / 1000):
            slips = unit_slips(value.si, 0.05 * twist, twist, written_as=value.unit)
            meant = f"; {slips[0].text}" if slips else "; is the unit or the thread right?"
            way = "above" if value.si > twist else "below"
            source.fault(("target", name), value, f"{value.text} is far {way} anything {size.designation} of class "
                         f"{material.designation} can take (it breaks at about {show(twist, 'N.m', 2)}){meant}",
                         f"about {show(0.05 * twist, 'N.m', 2)} to {show(twist, 'N.m', 2)}")
    for name in ("preload", "required_preload"):
        value = getattr(t, name)
        if value is not None and value.si > ABSURD * breaking:
            source.fault(("target", name), value, f"{value.text} is far above the load that breaks {size.designation} "
                         f"of class {material.designation}; is the unit or the thread right?",
                         f"less than {show(breaking, 'kN', 3)}")


def _procedure(source: Source, p: Known, count: int | None) -> None:
    if p.order is not None:
        for name, order in (("groups", "grouped"), ("listed", "listed")):
            used = order in (p.order, p.check_order)
            if p.has(name) and not used:
                source.fault(("procedure", name), getattr(p, name) or "", f"{name} goes with order {order!r}, but the "
                             f"order is {p.order!r}", f'order = "{order}", or leave the key out')
            if name == "listed" and used and not p.has(name):
                source.fault(("procedure", name), None, "the order is 'listed', but the list is missing",
                             "listed = [1, 9, 5, 13, ...] with each fastener once")
    if count is None:
        return
    if p.tools_at_once is not None and p.tools_at_once > count:
        source.fault(("procedure", "tools_at_once"), p.tools_at_once, f"{p.tools_at_once} tools cannot work on "
                     f"{count} fasteners at once", f"1 to {count}")
    for name in ("groups", "listed"):
        value = getattr(p, name)
        if value is not None and {"groups": "grouped", "listed": "listed"}[name] in (p.order, p.check_order):
            numbers = [number for group in value for number in group] if name == "groups" else list(value)
            _each_once(source, ("procedure", name), numbers, count)


def _each_once(source: Source, place: tuple[str, ...], numbers: list[int], count: int) -> None:
    found_times = Counter(numbers)
    missing = [number for number in range(1, count + 1) if number not in found_times]
    extra = sorted(number for number in found_times if not 1 <= number <= count)
    twice = sorted(number for number, times in found_times.items() if 1 <= number <= count and times > 1)
    says = [f"{word} {', '.join(map(str, found[:10]))}{' ...' if len(found) > 10 else ''}"
            for word, found in (("left out:", missing), ("more than once:", twice), ("no such fastener:", extra))
            if found]
    if says:
        source.fault(place, numbers, "; ".join(says), f"each fastener from 1 to {count} exactly once")


def _cautions(source: Source, notes: Known) -> None:
    names = tuple(caution.key for caution in CAUTIONS)
    for index, name in enumerate(notes.cautions or ()):
        if name not in names:
            near = get_close_matches(name, names, 1, 0.5)
            source.fault(("notes", "cautions", index), name, f"{name!r} is not a caution of the catalogue"
                         + (f"; did you mean {near[0]!r}?" if near else ""), ", ".join(names))

