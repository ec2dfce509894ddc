"""Target torques of bolted flange joints as the document prints them. Newton metre and pascal in what is returned."""

from __future__ import annotations

from dataclasses import dataclass

from evenpull.catalogue.tables import NotInCatalogue, table
from evenpull.quantities import to_si


@dataclass(frozen=True, slots=True)
class FlangeTorque:
    """Torque (N.m) of one bolt size at the prestress (Pa, on the root area) of the table."""

    size: str
    coated: bool
    torque: float
    prestress: float
    source: str
    status: str
    note: str


def flange_torques(system: str, coated: bool) -> tuple[FlangeTorque, ...]:
    """The whole table, "inch" or "metric"."""
    data = table("flange")["torque"]
    torque_unit, stress_unit = ("lbf.ft", "ksi") if system == "inch" else ("N.m", "MPa")
    return tuple(
        FlangeTorque(
            size, coated, to_si(pair[1 if coated else 0], torque_unit, "torque"),
            to_si(data["prestress"][system], stress_unit, "stress"), data[f"{system}_source"],
            "read" if size in data["status"]["read"] else data["status"]["others"], data["note"],
        )
        for size, pair in data[system].items()
    )


def flange_torque(system: str, size: str, coated: bool) -> FlangeTorque:
    """The row of one size ("3/4", "M24", "M36x3"). NotInCatalogue for what the table does not hold."""
    rows = flange_torques(system, coated)
    for row in rows:
        if row.size == size:
            return row
    raise NotInCatalogue("size in the table of target torques", size, tuple(row.size for row in rows),
                         rows[0].source + "; outside it compute T = K D F")
