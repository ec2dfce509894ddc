"""Reference rows on the strength of bolts and nuts."""

from __future__ import annotations

import re

from evenpull import catalogue, joint
from evenpull.catalogue.strengths import strength_rows
from tests.reference.given import Given
from tests.reference.sizes import (
    Range,
    check_area,
    class_and_range,
    needed_thread,
    size_range,
    thread_size,
    within,
)


def _stress_of(given: Given, found: joint.Strength) -> float:
    """The minimum stress that the quantity names: S_p, R_p02 or R_m."""
    if given.says("max", "maximum", "nominal", "hardness", "elongation", "area", "reduction", "shear"):
        raise given.unknown()
    sp = given.says("stress under proof load", "proof load stress", "proof stress", "sp", "sp,nom")
    if given.says("loads?") and not sp:
        raise given.unknown()
    limit = given.says("yield", "rp0.2", "0.2 ?%.*", "rel", "rpf", "rp")
    proof = given.says("proof")
    if sp or (proof and not limit and given.topic == "strength_inch"):
        if limit or given.says("tensile", "rm"):
            raise given.unknown()
        if found.S_p is None:
            raise given.error(f"{found.source} gives no proof stress for {found.designation}")
        return found.S_p
    if limit:
        return found.R_p02
    if given.says("tensile", "rm", "rm,min") and not proof:
        return found.R_m
    raise given.unknown()


def _stress(given: Given, name: str, limits: Range) -> float:
    """The stress of the class in the whole range of diameters (m). An error where it changes within the range."""
    low, high = limits
    ends = {d for d in limits if d is not None}
    inner = {row.up_to for row in strength_rows() if (low or 0) < row.up_to and (high is None or row.up_to < high)}
    values: dict[float, float] = {}
    missing: catalogue.NotInCatalogue | None = None
    for d in sorted(ends | inner):
        try:
            found = joint.strength_at(name, d)
        except catalogue.NotInCatalogue as error:
            if d in ends or "class with" in error.what:
                raise
            missing = error
            continue
        values[_stress_of(given, found)] = d
    if not values:
        assert missing is not None  # there are always inner sizes when there is no end
        raise missing
    if len(values) > 1:
        raise given.error(f"the strength of {name} depends on the diameter: name a size with only one value")
    return next(iter(values))


def _diameter(given: Given, system: str | None) -> float | None:
    """Diameter (m) of the thread, or the bare diameter."""
    size = thread_size(given, system)
    return given.si("length", "d", "D") if size is None else size.d


def _range(given: Given, system: str | None, limits: Range) -> Range:
    d = _diameter(given, system)
    if d is None:
        return limits
    if not within(d, limits):
        raise given.error("the diameter lies outside the range that the row names")
    return d, d


def strength_iso898(given: Given) -> float:
    name, limits = class_and_range(given.need(given.text("class", "property_class"), "the class"))
    if not re.fullmatch(r"\d{1,2}\.\d", name):
        raise given.error(f"{name!r} is no property class of ISO 898-1")
    stress_asked = given.says("stress under proof load")
    proof = given.says("proof load") and not stress_asked
    ultimate = given.says("ultimate.*load", "load fm")
    limit = given.says("yield load", "f0.2")
    if not (proof or ultimate or limit):
        return given.out(_stress(given, name, _range(given, "metric", limits)), "stress", "MPa")
    if proof + ultimate + limit > 1:
        raise given.unknown()
    size = needed_thread(given, "metric")
    if not within(size.d, limits):
        raise given.error("the thread lies outside the range of the class")
    if given.says("fine thread") and "x" not in size.designation:
        raise given.error(f"{size.designation} is a coarse thread")
    check_area(given, size)
    found = joint.strength(name, size)
    structural = given.says("structural(?: bolting)?")
    if structural and not ultimate:
        raise given.unknown()
    load = joint.proof_load(size, found) if proof else (
        joint.ultimate_load(size, found, structural=structural) if ultimate else joint.yield_load(size, found))
    return given.out(given.need(load, f"the proof stress of {name} in the standard"), "force", "N")


def strength_inch(given: Given) -> float:
    name = given.need(given.text("spec", "standard"), "the specification")
    if not re.match(r"(?:SAE|ASTM|J\s*429|A\d{3})", name, re.IGNORECASE):
        raise given.error(f"{name!r} is no SAE or ASTM specification")
    if (grade := given.text("grade", "SAE_grade")) is not None:
        grade = re.sub(r"^(?:grade|gr\.?)\s*", "", grade, flags=re.IGNORECASE)
        name += f" grade {grade}" if "J429" in name.replace(" ", "") else f" {grade}"
    if (number := given.text("class")) is not None:
        name += f" cl.{re.sub(r'^(?:class|cl.?) *', '', number, flags=re.IGNORECASE)}"
    size = given.text("size_in", "size_range")
    limits = (None, None) if size is None else size_range(size)
    return given.out(_stress(given, name, _range(given, None, limits)), "stress", "ksi")


def strength_stainless(given: Given) -> float:
    name, limits = class_and_range(given.need(given.text("class", "property_class"), "the class"))
    grade = given.text("grade")
    grades = re.findall(r"[ACF]\d?", grade or "")
    if grade is not None and not grades:
        raise given.error(f"grade {grade!r} is not understood")
    bare = re.fullmatch(r"\d+", name)
    if bare:  # "70" with grade "A4" or "C1"
        if not grades or len({"A" if one[0] == "A" else one for one in grades}) > 1:
            raise given.error("a class without steel group needs one grade")
        name = f"{'A' if grades[0].startswith('A') else grades[0]}-{name}"
    match = re.fullmatch(r"([ACF]\d?)-?\d+", name)
    if match is None:
        raise given.error(f"{name!r} is no class of stainless fasteners")
    group = match[1]
    if grades and group not in grades and not (group == "A" and all(one[0] == "A" for one in grades)):
        raise given.error("grade and class do not agree")
    return given.out(_stress(given, name, _range(given, "metric", limits)), "stress", "MPa")


def nut_proof(given: Given) -> float:
    """"nut proof load (style 1)", "... (style 2 for class 12)": the style named for this class, or without one."""
    size = needed_thread(given, "metric")
    nut_class = given.need(given.text("class", "nut_class", "property_class"), "the class of the nut")
    style = _style(given, nut_class)
    if not given.says("proof"):
        raise given.unknown()
    check_area(given, size)
    styles = [style] if style is not None else [1, 2]
    found: dict[float, int] = {}
    missing: catalogue.NotInCatalogue | None = None
    stress = given.says("stress")
    for one in styles:
        try:
            value = (joint.nut_row(size, nut_class, one).S_p if stress
                     else joint.nut_proof_load(size, nut_class, one))
        except catalogue.NotInCatalogue as error:
            missing = missing or error
            continue
        found[value] = one
    if len(found) > 1:
        raise given.error(f"class {nut_class} exists in styles 1 and 2 with different values: name the style")
    if not found:
        assert missing is not None  # each style gave a value or this error
        raise missing
    return given.out(next(iter(found)), *(("stress", "MPa") if stress else ("force", "N")))


def _style(given: Given, nut_class: str) -> int | None:
    key = given.text("style")
    stated = None
    if key is not None:
        match = re.fullmatch(r"(?:style\s*)?([12])", key, re.IGNORECASE)
        if match is None:
            raise given.error(f"style {key!r} is not 1 or 2")
        stated = int(match[1])
    said: set[int] = set()
    for style, classes in re.findall(r"style (\d)(?: for class(?:es)? (\d[\d, /and]*))?", given.q):
        named = re.findall(r"\d+", classes)
        if not named or nut_class in named:
            said.add(int(style))
        elif len(named) and style == "2":
            said.add(1)  # style 2 only for the classes named
        else:
            raise given.error(f"the quantity names no style for class {nut_class}")
    if len(said) > 1 or (stated is not None and said and said != {stated}):
        raise given.error("the style is stated in two ways")
    if given.says("thin"):
        raise given.error("thin nuts are not covered")
    return stated if stated is not None else next(iter(said), None)
