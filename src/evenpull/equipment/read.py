"""Reading a register of equipment: TOML text to items and assemblies, or every fault at once with file, line, field."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pydantic import BaseModel, ValidationError

from evenpull.equipment import build
from evenpull.equipment.holdings import Holdings, holdings
from evenpull.equipment.model import Assembly, Item
from evenpull.equipment.schema import (
    EQUIPMENT_FORM,
    AdapterTable,
    AssemblyTable,
    DeviceTable,
    EquipmentFile,
    GaugeTable,
    HydraulicToolTable,
    IntervalTable,
    LimitTable,
    MultiplierTable,
    PumpTable,
    TorqueToolTable,
)
from evenpull.instrument.parts import ChainError, opened
from evenpull.plan.toml_text import Known, Source, check_schema, read_toml
from evenpull.quantities import Kind, UnitError, canonical_unit, kind_of, units_for

LARGEST = 2_000_000  # characters
WHAT = "a register of equipment"
TABLES: dict[str, type[BaseModel]] = {
    "torque_tool": TorqueToolTable, "hydraulic_tool": HydraulicToolTable, "multiplier": MultiplierTable,
    "adapter": AdapterTable, "pump": PumpTable, "gauge": GaugeTable, "angle_device": DeviceTable,
    "stretch_device": DeviceTable, "check_device": DeviceTable, "reference_standard": DeviceTable,
    "assembly": AssemblyTable,
}
# what the scale of each may show
SHOWS: dict[str, tuple[Kind, ...]] = {
    "torque_tool": ("torque",), "hydraulic_tool": ("torque",), "gauge": ("stress",), "angle_device": ("angle",),
    "stretch_device": ("length",), "check_device": ("torque", "stress", "angle"),
    "reference_standard": ("torque", "stress", "angle", "length", "force"),
}
Place = tuple[str, int]


@dataclass(frozen=True)
class Equipment:
    """What one text holds, in the order of the file."""

    items: tuple[Item, ...]
    assemblies: tuple[Assembly, ...]

    @property
    def serials(self) -> tuple[str, ...]:
        return (*(one.serial for one in self.items), *(one.serial for one in self.assemblies))


def read_equipment(
    text: str, file: str, known: Holdings | None = None, *, checked: bool = False,
) -> Equipment:
    """The equipment in a TOML text; `file` names it in errors. Raises SpecificationError with all faults.

    With `known`, what the register holds already, every chain is put together: a part that stands in neither is a
    fault, and so is a chain that an item of this text would break. `checked`: the text was read before, as one that is
    kept was; then only each value is checked again, which takes a third of the time.
    """
    source = read_toml(text, file, most=LARGEST, what=WHAT, form=EQUIPMENT_FORM)
    if checked:
        try:
            return _built(EquipmentFile.model_validate(source.data))
        except ValidationError:
            pass  # the rules became stricter: told below with line and field
    check_schema(source, EquipmentFile)
    _check_together(source)
    source.refuse_if_faulty()
    found = _built(EquipmentFile.model_validate(source.data))
    if known is not None:
        _check_chains(source, found, known)
        source.refuse_if_faulty()
    return found


def _tables(source: Source) -> Iterator[tuple[Place, Known]]:
    for name, model in TABLES.items():
        raw = source.data.get(name)
        if isinstance(raw, list):
            yield from (((name, index), Known(model, item)) for index, item in enumerate(raw))


def _check_together(source: Source) -> None:
    seen: dict[str, Place] = {}
    if not any(name in source.data for name in TABLES):
        source.fault((), None, "there is no equipment in it", f"tables such as [[torque_tool]]: {', '.join(TABLES)}")
    for place, table in _tables(source):
        if table.serial is not None:
            if table.serial in seen:
                first = seen[table.serial]
                source.fault((*place, "serial"), table.serial, f"{table.serial!r} stands here a second time; it is "
                             f"[[{first[0]}]] number {first[1] + 1} already", "each serial once")
            seen.setdefault(table.serial, place)
        if place[0] in SHOWS:
            _check_scale(source, place, table)
        if place[0] == "multiplier":
            _check_ratio(source, place, table)
        _check_interval(source, place)
    made_of = {str(t.serial): tuple(t.parts) for p, t in _tables(source)
               if p[0] == "assembly" and t.serial is not None and t.parts}
    for place, table in _tables(source):
        if place[0] == "assembly" and table.serial in made_of:
            try:
                opened(table.serial, made_of)
            except ChainError as error:
                source.fault((*place, "parts"), list(table.parts), str(error), "parts that make one chain")


def _check_scale(source: Source, place: Place, table: Known) -> None:
    shows, kind = SHOWS[place[0]], None
    if table.unit is not None:
        kind = _unit_kind(source, place, table.unit, shows)
    for name in ("range", "resolution"):
        value = getattr(table, name)
        one = value[0] if name == "range" and value else value
        if one and kind is not None and one.kind != kind:
            source.fault((*place, name), one, f"{one.text} is a {_said(one.kind)}, and its scale shows a {_said(kind)}",
                         f"a {_said(kind)}")
            return
    if table.range is not None and table.resolution is not None:
        lower, upper = table.range
        if not 0 < table.resolution.si <= (upper.si - lower.si) / 5:
            source.fault((*place, "resolution"), table.resolution, f"a step of {table.resolution.text} does not go "
                         f"with a scale from {lower.text} to {upper.text}", "more than zero, at most a fifth of it")
    _check_limits(source, place, table)


def _unit_kind(source: Source, place: Place, unit: str, shows: tuple[Kind, ...]) -> Kind | None:
    for kind in shows:
        try:
            return kind_of(canonical_unit(unit, kind))
        except UnitError:
            continue
    allowed = ", ".join(name for kind in shows for name in units_for(kind))
    source.fault((*place, "unit"), unit, f"{unit!r} is not a unit of {' or '.join(_said(k) for k in shows)}", allowed)
    return None


def _said(kind: Kind) -> str:
    return "pressure" if kind == "stress" else kind


def _check_limits(source: Source, place: Place, table: Known) -> None:
    raw = source.data[place[0]][place[1]]
    limits = raw.get("limit") if isinstance(raw, dict) else None
    if not isinstance(limits, list) or table.range is None:
        return
    lower, upper = table.range
    for index, one in enumerate(limits):
        limit = Known(LimitTable, one)
        if limit.range is None:
            continue
        first, last = limit.range
        at = (*place, "limit", index, "range")
        if first.kind != lower.kind:
            source.fault(at, first, f"{first.text} is a {_said(first.kind)}, and its scale shows a {_said(lower.kind)}",
                         f"a {_said(lower.kind)}")
        elif max(first.si, lower.si) >= min(last.si, upper.si):
            source.fault(at, first, f"{first.text} to {last.text} leaves nothing of the scale from {lower.text} to "
                         f"{upper.text}", "a part of the scale")


def _check_interval(source: Source, place: Place) -> None:
    raw = source.data[place[0]][place[1]]
    if isinstance(raw, dict) and isinstance(raw.get("interval"), dict):
        check_interval(source, (*place, "interval"), raw["interval"])


def check_interval(source: Source, place: tuple[str | int, ...], raw: object) -> None:
    """Months or cycles have to be stated: with events alone an interval would never end."""
    table = Known(IntervalTable, raw)
    if not table.has("months") and not table.has("cycles"):
        source.fault((*place, "months"), None, "the interval needs months, cycles or both: with events alone it would "
                     "never end", "months = 12")


def _check_ratio(source: Source, place: Place, table: Known) -> None:
    by_gears = table.has("gear_ratio") or table.has("efficiency")
    if table.has("ratio") == by_gears:
        source.fault((*place, "ratio"), table.ratio, "its ratio is stated "
                     f"{'in two ways' if by_gears else 'in no way'}",
                     "ratio as measured, or gear_ratio with efficiency")
    elif by_gears and not (table.has("gear_ratio") and table.has("efficiency")):
        lacking = "efficiency" if table.has("gear_ratio") else "gear_ratio"
        source.fault((*place, lacking), None, f"{lacking} is missing: the ratio follows from both",
                     "gear_ratio with efficiency, or ratio as measured")


def _built(read: EquipmentFile) -> Equipment:
    items = (
        *map(build.torque_tool, read.torque_tool), *map(build.hydraulic_tool, read.hydraulic_tool),
        *map(build.multiplier, read.multiplier), *map(build.adapter, read.adapter), *map(build.pump, read.pump),
        *map(build.gauge, read.gauge), *(build.device(t, "angle device") for t in read.angle_device),
        *(build.device(t, "stretch device") for t in read.stretch_device),
        *(build.device(t, "check device") for t in read.check_device),
        *(build.device(t, "reference standard") for t in read.reference_standard),
    )
    assemblies = tuple(Assembly(a.serial, a.name, a.parts, a.place or "", a.note or "") for a in read.assembly)
    return Equipment(items, assemblies)


def _check_chains(source: Source, found: Equipment, known: Holdings) -> None:
    """Every chain of this text, and every known one that holds a part of it, as it would be with this text."""
    own = {one.serial for one in found.items}
    for index, one in enumerate(found.assemblies):
        if one.serial in known.items and one.serial not in own:
            source.fault(("assembly", index, "serial"), one.serial, f"{one.serial!r} is a single item of the register: "
                         f"{known.name(one.serial)}", "another serial")
    for place, table in _tables(source):
        if place[0] != "assembly" and table.serial in known.assemblies:
            source.fault((*place, "serial"), table.serial, f"{table.serial!r} is an assembly of the register: "
                         f"{known.name(table.serial)}", "another serial")
    together = merged(known, found)
    places = {t.serial: p for p, t in _tables(source)}
    touched = {one for serial in found.serials for one in (serial, *together.used_in(serial))}
    for serial in sorted(touched & set(together.assemblies)):
        try:
            together.chain(serial)
        except ValueError as error:
            own_place = places.get(serial)
            if own_place is not None:
                source.fault((*own_place, "parts"), None, str(error), "parts of the register that make one chain")
                continue
            changed = next((p for s, p in places.items() if serial in together.used_in(s)), ())
            source.fault(changed, None, f"the assembly {serial} of the register would no longer be an instrument: "
                         f"{error}", "an item that goes with it; or write the assembly anew in this file")


def merged(known: Holdings, found: Equipment) -> Holdings:
    """The register with a further text: what it names anew replaces what stood under that serial."""
    new = holdings(found.items, found.assemblies, ())
    assemblies = {**known.assemblies, **new.assemblies}
    return Holdings({**known.items, **new.items}, assemblies, known.calibrations, known.entries)
