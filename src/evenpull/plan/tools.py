"""Reading a tool file: TOML text to `Tool`s, or every fault at once with file, line and field."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from evenpull.plan.model import Tool
from evenpull.plan.schema import TOOLS_FORM, AdapterTable, ToolsFile, ToolTable
from evenpull.plan.toml_text import Known, Source, check_schema, read_file, read_toml
from evenpull.quantities import UnitError, canonical_unit, units_for

LARGEST = 1_000_000  # characters
WHAT = "a tool file"


def read_tools(text: str, file: str) -> tuple[Tool, ...]:
    """The tools in a TOML text; `file` names it in errors. Raises SpecificationError with all faults."""
    source = read_toml(text, file, most=LARGEST, what=WHAT, form=TOOLS_FORM)
    check_schema(source, ToolsFile)
    _check_together(source)
    source.refuse_if_faulty()
    return tuple(_built(tool) for tool in ToolsFile.model_validate(source.data).tool)


def read_tools_file(path: Path) -> tuple[Tool, ...]:
    """The tools in a file. SpecificationError also for a file that is not UTF-8 or too large."""
    return read_tools(read_file(path, most=LARGEST, what=WHAT), str(path))


def _tables(source: Source) -> Iterator[tuple[int, Known]]:
    raw = source.data.get("tool")
    if isinstance(raw, list):
        yield from ((index, Known(ToolTable, item)) for index, item in enumerate(raw))


def _check_together(source: Source) -> None:
    seen: dict[str, int] = {}
    for index, tool in _tables(source):
        place = ("tool", index)
        if tool.serial is not None:
            if tool.serial in seen:
                source.fault((*place, "serial"), tool.serial, f"{tool.serial!r} stands here a second time; it is tool "
                             f"{seen[tool.serial] + 1} of the file already", "each serial once")
            seen.setdefault(tool.serial, index)
        _check_scale(source, place, tool)
        if tool.certificate_from and tool.certificate_until and tool.certificate_until < tool.certificate_from:
            source.fault((*place, "certificate_until"), tool.certificate_until, f"{tool.certificate_until} is before "
                         f"the first day {tool.certificate_from}", f"{tool.certificate_from} or later")
        if tool.has("adapter"):
            _check_adapter(source, place, tool)


def _check_scale(source: Source, place: tuple[str | int, ...], tool: Known) -> None:
    if tool.unit is not None:
        try:
            canonical_unit(tool.unit, "torque")
        except UnitError as error:
            source.fault((*place, "unit"), tool.unit, f"{tool.unit!r} is not a unit of torque: {error.reason}",
                         ", ".join(units_for("torque")))
    if tool.range is not None and tool.resolution is not None:
        lower, upper = tool.range
        if tool.resolution.si > (upper.si - lower.si) / 5:
            source.fault((*place, "resolution"), tool.resolution, f"a step of {tool.resolution.text} is too coarse for "
                         f"a scale from {lower.text} to {upper.text}", "at most a fifth of the scale")


def _check_adapter(source: Source, place: tuple[str, int], tool: Known) -> None:
    if not tool.has("lever"):
        source.fault((*place, "lever"), None, "the lever is missing: with an adapter the setting depends on it",
                     'from the hand mark to the drive centre, such as "480 mm"')
    adapter = Known(AdapterTable, source.data["tool"][place[1]]["adapter"])
    if adapter.length is not None and tool.lever is not None and adapter.length.si >= tool.lever.si:
        source.fault((*place, "adapter", "length"), adapter.length, f"an adapter of {adapter.length.text} is not "
                     f"shorter than the lever of {tool.lever.text}", f"less than {tool.lever.text}")


def _built(t: ToolTable) -> Tool:
    lower, upper = t.range
    return Tool(
        serial=t.serial, name=t.name, kind=t.kind,  # type: ignore[arg-type]
        unit=canonical_unit(t.unit, "torque"), lower=lower, upper=upper, resolution=t.resolution,
        uncertainty=t.uncertainty, certificate=t.certificate, certificate_from=t.certificate_from,
        certificate_until=t.certificate_until, lever=t.lever, adapter=t.adapter.name if t.adapter else "",
        adapter_length=t.adapter.length if t.adapter else None, adapter_angle=t.adapter.angle if t.adapter else None,
        multiplier_ratio=t.multiplier_ratio,
    )

