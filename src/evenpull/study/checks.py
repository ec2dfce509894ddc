"""What the values of a study file say together: a design that can be judged, limits that belong together."""

from __future__ import annotations

from typing import Any

from evenpull.plan.toml_text import Known, Source
from evenpull.plan.values import shown
from evenpull.quantities import UnitError, canonical_unit, units_for
from evenpull.study.schema import (
    ENDS,
    MOST_PERSONS,
    MOST_READINGS,
    DemandTable,
    DesignTable,
    ExpectedTable,
    JudgedTable,
    MeasuredTable,
    PartTable,
    StudyTable,
    ValidityTable,
    WindowTable,
)

RR, MACHINE, PROCESS, EXERCISE = (
    "repeatability and reproducibility", "machine capability", "process capability", "operator exercise",
)  # fmt: skip
LONGEST_UNIT = 20


def check_together(source: Source) -> None:
    """Note every fault that no single value shows; values that are wrong by themselves are left aside."""
    study = Known(StudyTable, source.data.get("study"))
    measured = Known(MeasuredTable, source.data.get("measured"))
    design = Known(DesignTable, source.data.get("design"))
    window = Known(WindowTable, source.data.get("window"))
    raw = source.data.get("part")
    parts = [Known(PartTable, one) for one in raw] if isinstance(raw, list) else []
    _check_unit(source, measured)
    _check_names(source, design, parts)
    _check_design(source, study.kind, design, parts)
    _check_targets(source, study.kind, measured, parts, window)
    _check_limits(source, study.kind, window, Known(DemandTable, source.data.get("demand")))
    if "expected" in source.data:
        _check_expected(source, study.kind, Known(ExpectedTable, source.data["expected"]))
    if Known(JudgedTable, source.data.get("judged")).has("model") and study.kind not in (None, RR):
        source.fault(("judged", "model"), None, f"a {study.kind} has no model of persons and parts", "leave it out")
    if "validity" in source.data:
        _check_validity(source, Known(ValidityTable, source.data["validity"]))


def _check_unit(source: Source, measured: Any) -> None:
    if measured.unit is None or measured.quantity is None:
        return
    place = ("measured", "unit")
    if measured.quantity == "other":
        if len(measured.unit) > LONGEST_UNIT:
            source.fault(place, measured.unit, f"the unit has {len(measured.unit)} characters",
                         f"at most {LONGEST_UNIT}")
        return
    try:
        canonical_unit(measured.unit, measured.quantity)
    except UnitError as error:
        source.fault(place, measured.unit, f"{shown(measured.unit)} is not a unit of {measured.quantity}: "
                     f"{error.reason}", ", ".join(units_for(measured.quantity)))


def _check_names(source: Source, design: Any, parts: list[Known]) -> None:
    """No two persons or parts that differ only in capitals or blanks: their readings could not be told apart."""
    persons = [(("design", "persons"), name) for name in design.persons or ()]
    named = [(("part", index, "name"), one.name) for index, one in enumerate(parts) if one.name is not None]
    for what, names in (("person", persons), ("part", named)):
        seen: dict[str, str] = {}
        for place, name in names:
            folded = " ".join(name.split()).casefold()
            if folded in seen:
                source.fault(place, name, f"{shown(name)} and {shown(seen[folded])} are one {what} in the readings",
                             "names that differ in more than capitals and blanks")
            seen[folded] = name
    if len(persons) > MOST_PERSONS:
        source.fault(("design", "persons"), None, f"there are {len(persons)} persons", f"at most {MOST_PERSONS}")


def _check_design(source: Source, kind: str | None, design: Any, parts: list[Known]) -> None:
    if kind is None or design.persons is None:
        return
    persons, given, repeats = len(design.persons), len(parts), design.replicates or 0
    place = ("design", "persons")
    if kind == RR:
        if persons < 2:
            source.fault(place, list(design.persons), f"{persons} persons show nothing between persons",
                         "two or more; of one person or tool alone take the kind machine capability or operator "
                         "exercise")
        if given == 1:
            source.fault(("part",), None, "one part shows no difference of persons from part to part",
                         "two or more [[part]]; or none, when each person pulls on fasteners of one lot")
        if repeats == 1:
            source.fault(("design", "replicates"), 1, "one reading of each place shows no repeatability", "2 or more")
    elif kind == EXERCISE:
        if persons < 1:
            source.fault(place, None, "an operator exercise is about persons, and names none", "one name or more")
        if given < 2 and 0 < repeats < 3:
            source.fault(("design", "replicates"), repeats, f"{repeats} pulls at one target show no limits of a bias",
                         "3 or more, or two targets or more")
    else:
        if persons:
            source.fault(place, list(design.persons), f"a {kind} is not told apart by persons",
                         "leave it out; who pulled goes into the notes")
        if kind == MACHINE and given:
            source.fault(("part",), None, "a machine capability is one run at one target", "leave [[part]] out; "
                         "state window.target")
        if kind == MACHINE and 0 < repeats < 3:
            source.fault(("design", "replicates"), repeats, "fewer than three pulls show no scatter", "3 or more")
        if kind == PROCESS and given < 2:
            source.fault(("part",), None, f"a process is seen in groups, and there are {given}",
                         "two [[part]] or more, one for each group in the order of time")
        if kind == PROCESS and repeats == 1:
            source.fault(("design", "replicates"), 1, "groups of one pull show no scatter within", "2 or more")
    asked = max(1, persons) * max(1, given) * repeats
    if asked > MOST_READINGS:
        source.fault(("design", "replicates"), repeats, f"that is {asked} readings", f"at most {MOST_READINGS} in all")


def _check_targets(source: Source, kind: str | None, measured: Any, parts: list[Known], window: Any) -> None:
    """An analysis against targets needs one for each part, greater than zero where shares of it are taken."""
    if kind is None or measured.analysed is None:
        return
    needed = measured.analysed != "value" or kind == EXERCISE
    if not needed:
        return
    why = f"this {kind} is analysed against targets"
    if not parts and window.target is None:
        source.fault(("window", "target"), None, f"{why}, and none is stated", "window.target = number")
    for index, one in enumerate(parts):
        if one.target is None and not one.has("target") and window.target is None:
            source.fault(("part", index), None, f"{why}, and the part {shown(one.name or '')} has none",
                         "target = number, here or in [window]")
    if measured.analysed == "share of target":
        for place, target in ((("window", "target"), window.target),
                              *((("part", i, "target"), one.target) for i, one in enumerate(parts))):
            if target is not None and target <= 0:
                source.fault(place, target, f"shares of a target of {target:g} cannot be taken", "more than 0; or "
                             'analysed = "difference from target"')


def _check_limits(source: Source, kind: str | None, window: Any, demand: Any) -> None:
    if window.lower is not None and window.upper is not None and window.lower >= window.upper:
        source.fault(("window", "upper"), window.upper, f"the upper limit {window.upper:g} does not lie above the "
                     f"lower one {window.lower:g}", f"more than {window.lower:g}")
    if kind is None:
        return
    one_limit = window.lower is not None or window.upper is not None
    if kind in (MACHINE, PROCESS) and not one_limit and not window.has("lower") and not window.has("upper"):
        source.fault(("window",), None, f"a {kind} is judged against a window, and there is none",
                     "lower, upper or both")
    for name, kinds, needs in (
        ("precision", (RR,), "both"), ("index", (MACHINE, PROCESS), ""), ("bias", (EXERCISE,), ""),
        ("inside", (EXERCISE,), "one"),
    ):
        if getattr(demand, name) is None:
            continue
        if kind not in kinds:
            source.fault(("demand", name), getattr(demand, name), f"{name} is not asked of a {kind}",
                         f"leave it out; it belongs to {' or '.join(kinds)}")
        elif needs == "both" and (window.lower is None or window.upper is None):
            source.fault(("demand", name), getattr(demand, name), "a share of the window needs both limits of it",
                         "window.lower and window.upper")
        elif needs == "one" and not one_limit:
            source.fault(("demand", name), getattr(demand, name), "pulls lie within a window, and there is none",
                         "window.lower, window.upper or both")


def _check_expected(source: Source, kind: str | None, expected: Any) -> None:
    if kind is not None and kind not in (MACHINE, PROCESS) and expected.index is not None:
        source.fault(("expected", "index"), expected.index, f"an index is not expected of a {kind}", "leave it out")


def _check_validity(source: Source, validity: Any) -> None:
    if validity.first and validity.last and validity.last < validity.first:
        source.fault(("validity", "until"), validity.last, f"{validity.last} is before the first day {validity.first}",
                     f"{validity.first} or later")
    for text in validity.ends_with or ():
        if text.casefold() in {name.casefold() for name in ENDS} and text not in ENDS:
            source.fault(("validity", "ends_with"), text, f"{shown(text)} is written in small letters here",
                         ", ".join(ENDS))
