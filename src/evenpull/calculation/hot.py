"""Modulus and yield strength at temperature from the tables, where the file names material and class, not the ratio."""

from __future__ import annotations

from dataclasses import dataclass

from evenpull.calculation.checks import Found
from evenpull.calculation.names import origin
from evenpull.calculation.schema import CalculationFile
from evenpull.catalogue.materials import TemperatureCurve
from evenpull.catalogue.tables import NotInCatalogue
from evenpull.joint.case import AMBIENT, Material
from evenpull.joint.parts.materials import E_ratio, modulus_curve, strength_curve, strength_ratio
from evenpull.joint.service.remaining import NEAR_AMBIENT


@dataclass(frozen=True, slots=True)
class FromTable:
    value: float
    source: str


def ratios_at_temperature(read: CalculationFile, found: Found) -> dict[str, FromTable]:
    """E_S_ratio, E_P_ratio, R_p02_ratio by name, as far as the file leaves them open and the tables have them.

    Layers that soften differently are left to be stated: one number for all of them would be a guess.
    """
    service, ratios = read.service, dict[str, FromTable]()
    bolt = found.materials["bolt"]
    if service.E_S_ratio is None and (ratio := _modulus(bolt, service.T_S)) is not None:
        ratios["E_S_ratio"] = ratio
    parts = {found.materials[f"layer {index}"].name: found.materials[f"layer {index}"]
             for index in range(len(read.layer))}
    softer = [_modulus(stuff, service.T_P) for stuff in parts.values()]
    if service.E_P_ratio is None and softer and None not in softer and len({one.value for one in softer if one}) == 1:
        ratios["E_P_ratio"] = next(one for one in softer if one is not None)
    name = read.bolt.strength_class
    if service.R_p02_ratio is None and name is not None and abs(service.T_S - AMBIENT) > NEAR_AMBIENT:
        try:
            ratios["R_p02_ratio"] = FromTable(float(strength_ratio(name, service.T_S)), _said(strength_curve(name)))
        except (NotInCatalogue, ValueError):  # no curve, or beyond it: the rule sets ask for the value then
            return ratios
    return ratios


def _modulus(stuff: Material, T: float) -> FromTable | None:
    if stuff.status == "stated" or abs(T - AMBIENT) <= NEAR_AMBIENT:
        return None
    try:
        return FromTable(float(E_ratio(stuff.name, T)), _said(modulus_curve(stuff.name)))
    except (NotInCatalogue, ValueError):
        return None


def _said(curve: TemperatureCurve) -> str:
    return origin(curve.source, curve.status)
