"""Materials by name, and moduli and yield strengths at temperature."""

from __future__ import annotations

from evenpull.catalogue.materials import MaterialRow, TemperatureCurve, materials_named, temperature_curves
from evenpull.catalogue.tables import NotInCatalogue
from evenpull.joint.case import Material
from evenpull.joint.numeric import Num, holds, interpolate
from evenpull.joint.parts.strengths import canonical

# Tensile strengths of one state differ by this share between product standards (AlMgSi1 F31: 310 and 290 MPa).
SAME = 0.08


def material(name: str, R_m: float | None = None) -> Material:
    """The material of this name (EN, DIN, UNS or trade name) with its room-temperature values, Pa and 1/K.

    One name may stand for several states, as quenched and normalised: `R_m` (Pa) then picks the one of this tensile
    strength, within 8 %: product standards of one material differ that much. NotInCatalogue, which names what there is,
    for an unknown name and for a choice that is open.
    """
    return _material(_one(name, R_m))


def _one(name: str, R_m: float | None) -> MaterialRow:
    rows = materials_named(name)
    if R_m is not None:
        fitting = [row for row in rows if row.R_m is not None and abs(row.R_m - R_m) <= SAME * row.R_m]
        if not fitting:
            raise NotInCatalogue("state of " + rows[0].name, f"{name} with R_m {R_m / 1e6:g} MPa", _states(rows))
        rows = tuple(fitting)
    if len(rows) > 1:
        raise NotInCatalogue("name of one material", name, _states(rows), "several states: take one of these names")
    return rows[0]


def _states(rows: tuple[MaterialRow, ...]) -> tuple[str, ...]:
    return tuple(
        row.name + ("" if row.R_m is None else f" (R_m {row.R_m / 1e6:g} MPa)") for row in rows
    )


def _material(row: MaterialRow) -> Material:
    source = row.source
    if row.p_G_read:
        source += "; p_G read in a catalogue table after this edition, the other values from memory"
    return Material(row.name, row.E, row.alpha, row.R_m, row.R_p02, row.p_G, row.tau_B, source, "memory")


def p_G(name: str, *, edition: str | None = None, R_m: float | None = None) -> float:
    """Limiting surface pressure p_G in Pa of a material; `edition` "1986", "2003" or "2015" of VDI 2230.

    Without an edition the value of `material`. NotInCatalogue where the material, or the edition for it, has none.
    """
    row = _one(name, R_m)
    value = row.p_G if edition is None else row.p_G_editions.get(edition)
    if value is None:
        raise NotInCatalogue(
            "limiting surface pressure", f"{row.name}" + ("" if edition is None else f" in the edition of {edition}"),
            tuple(row.p_G_editions), row.source,
        )
    return value


def E_ratio(name: str, T: Num) -> Num:
    """Modulus at T degC over that at 20 degC, straight between the points of the table.

    `name` is a material, or the name of a curve ("carbon steel"). NotInCatalogue where no curve is known for the
    material; ValueError outside the temperatures of the table.
    """
    return _ratio(modulus_curve(name), T)


def strength_ratio(designation: str, T: Num) -> Num:
    """Yield strength at T degC over that at 20 degC, straight between the points of the table.

    `designation` is a strength class ("8.8", "A4-70", "A193 B7") or the name of a curve ("C3", "fire"). Short exposure:
    relaxation and creep are not in it. NotInCatalogue where the source gives nothing; ValueError outside its range.
    """
    return _ratio(strength_curve(designation), T)


def strength_curve(designation: str) -> TemperatureCurve:
    """The curve of the yield strength with its source, for a class or by its own name."""
    curves = temperature_curves("strength")
    wanted = canonical(designation)
    if wanted in curves:
        return curves[wanted]
    for curve in curves.values():
        if wanted in curve.classes:
            return curve
    known = tuple(curves) + tuple(one for curve in curves.values() for one in curve.classes)
    raise NotInCatalogue("class with a yield strength over temperature", designation, known, "state the ratio")


def modulus_curve(name: str) -> TemperatureCurve:
    """The curve of the modulus with its source, for a material or by its own name."""
    curves = temperature_curves("modulus")
    if name in curves:
        return curves[name]
    row = _one(name, None)
    if row.curve is None:
        raise NotInCatalogue("material with a modulus over temperature", row.name, tuple(curves), "state the ratio")
    return curves[row.curve]


def _ratio(curve: TemperatureCurve, T: Num) -> Num:
    low, high = curve.points[0][0], curve.points[-1][0]
    if not holds((low - 1e-6 <= T) & (high + 1e-6 >= T)):
        raise ValueError(f"{curve.name}: {curve.source} covers {low:g} to {high:g} degC, not {T}")
    return interpolate(T, tuple(x for x, _ in curve.points), tuple(y for _, y in curve.points))
