"""Where every input comes from: the rows printed on the sheet, and the sources that the rule sets name."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from evenpull.calculation.checks import Found
from evenpull.calculation.hot import FromTable
from evenpull.calculation.model import NOT_STATED, InputRow
from evenpull.calculation.names import origin
from evenpull.calculation.schema import CalculationFile
from evenpull.joint.case import Material
from evenpull.plan.guide import schema_help
from evenpull.quantities import show

DEFAULT = f"{NOT_STATED}; this is taken then"
_HEADING = ("calculation",)  # said in the head of the sheet already
_MATERIAL = (("E", "GPa"), ("R_m", "MPa"), ("R_p02", "MPa"), ("p_G", "MPa"), ("tau_B", "MPa"))


def _basis(read: CalculationFile, table: str) -> str:
    mine = getattr(read, table, None)
    return getattr(mine, "basis", None) or read.calculation.basis


def sources_of(read: CalculationFile, found: Found, hot: Mapping[str, FromTable]) -> dict[str, str]:
    """Source by the dotted name of the field in the case: "bolt.d_w", "friction.mu_G", "layers"."""
    sources: dict[str, str] = {}
    for table in ("bolt", "counterpart", "tightening", "loads", "service", "embedding", "limits", "gasket",
                  "eccentricity", "structural", "space", "flange", "aviation"):
        mine = getattr(read, table)
        if mine is None:
            continue
        for name, info in type(mine).model_fields.items():
            if name in mine.model_fields_set and name != "basis":
                sources[f"{table}.{name}"] = _basis(read, table)
            elif name != "basis" and not info.is_required():
                sources[f"{table}.{name}"] = DEFAULT
    sources["layers"] = read.calculation.basis
    if found.strength is not None:
        sources["bolt.strength"] = origin(found.strength.source, found.strength.status)
    for name, seat in (("bolt.d_w", found.head_face), ("counterpart.d_w", found.nut_face),
                       ("counterpart.nut_proof_stress", found.nut_proof)):
        if seat is not None and seat.status != "stated":
            sources[name] = origin(seat.source, seat.status)
    if found.friction is not None:
        for name in ("mu_G", "mu_K", "K"):
            sources[f"friction.{name}"] = found.friction.source
    return sources | {f"service.{name}": ratio.source for name, ratio in hot.items()}


def input_rows(
    data: Mapping[str, Any], read: CalculationFile, found: Found, hot: Mapping[str, FromTable]
) -> tuple[InputRow, ...]:
    """Every stated key in the order of the file with its meaning, and what names were taken to mean."""
    meanings = {row.field: row.meaning for row in schema_help(CalculationFile)}
    return (*_rows(data, read, found), *(
        InputRow(f"service.{name}", meanings[f"service.{name}"], f"{ratio.value:.4g}", ratio.source)
        for name, ratio in hot.items()
    ))


def _rows(data: Mapping[str, Any], read: CalculationFile, found: Found) -> Iterator[InputRow]:
    meanings = {row.field: row.meaning for row in schema_help(CalculationFile)}
    for table in CalculationFile.model_fields:
        raw = data.get(table)
        if table in _HEADING or not isinstance(raw, dict | list):
            continue
        if isinstance(raw, list):
            yield from (_of_list(table, index, item, read, found) for index, item in enumerate(raw))
            continue
        basis = raw.get("basis") or _basis(read, table)
        for key, value in raw.items():
            if key != "basis":
                yield InputRow(f"{table}.{key}", meanings[f"{table}.{key}"], _written(value), basis)
        yield from _meant(table, read, found)
    for name, stuff in {stuff.name: stuff for stuff in found.materials.values()}.items():
        yield from _material(f"material {name}", stuff)


def _of_list(table: str, index: int, item: Mapping[str, Any], read: CalculationFile, found: Found) -> InputRow:
    """One layer, section or material on one row: its values beside each other."""
    source = item.get("basis") or read.calculation.basis
    said = [f"{key} {_written(value)}" for key, value in item.items() if key not in ("part", "name", "basis")]
    d_h = found.holes.get(index) if table == "layer" else None
    if d_h is not None and d_h.status != "stated":
        said.append(f"d_h {show(d_h.value, 'mm')}")
        source += f"; d_h: {origin(d_h.source, d_h.status)}"
    meaning = {"layer": "clamped part", "section": "piece of the bolt without thread"}.get(table, "values stated")
    named = str(item.get("part") or item.get("name") or "")
    return InputRow(f"{table} {index + 1}", f"{meaning}: {named}" if named else meaning, "; ".join(said), source)


def _written(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return " / ".join(_written(item) for item in value)
    return f"{value:g}" if isinstance(value, float) else str(value)


def _meant(table: str, read: CalculationFile, found: Found) -> Iterator[InputRow]:
    """Values that tables gave for the names of this table of the file."""
    if table == "bolt" and found.strength is not None and read.bolt.strength_class is not None:
        s = found.strength
        for name, meaning, value in (("R_m", "tensile strength", s.R_m), ("R_p02", "yield strength", s.R_p02),
                                     ("S_p", "proof stress", s.S_p)):
            said = show(value, "MPa") if value is not None else "the standard gives none"
            yield InputRow(f"{table}.{name}", f"{meaning} of the class", said, origin(s.source, s.status))
    if table == "bolt":
        yield from _face(table, "under the head", found.head_face)
    if table == "counterpart":
        yield from _face(table, "of the nut", found.nut_face)
        if found.nut_proof is not None and found.nut_proof.status != "stated":
            yield InputRow(f"{table}.nut_proof_stress", "proof stress of the nut's class",
                           show(found.nut_proof.value, "MPa"), origin(found.nut_proof.source, found.nut_proof.status))
    if table == "friction" and found.friction is not None and read.friction.mu_G is None:
        f = found.friction
        for name, band in (("mu_G", f.mu_G), ("mu_K", f.mu_K)):
            yield InputRow(f"{table}.{name}", "coefficient of friction of the lubricant: least, nominal, most",
                           f"{band.low:g} / {band.nominal:g} / {band.high:g}", f.source)


def _face(place: str, where: str, seat: Any) -> Iterator[InputRow]:
    if seat is not None and seat.status != "stated":
        yield InputRow(f"{place}.d_w", f"bearing face {where}", show(seat.value, "mm"),
                       origin(seat.source, seat.status))


def _material(place: str, stuff: Material) -> Iterator[InputRow]:
    """Values of a material of the catalogue; one described in the file stands there itself."""
    if stuff.status == "stated":
        return
    said = [f"{name} = {show(getattr(stuff, name), unit)}" for name, unit in _MATERIAL
            if getattr(stuff, name) is not None]
    if stuff.alpha is not None:
        said.insert(1, f"alpha = {stuff.alpha:.3g} 1/K")
    yield InputRow(place, "values of the catalogue", "; ".join(said),
                   origin(stuff.source, stuff.status))
