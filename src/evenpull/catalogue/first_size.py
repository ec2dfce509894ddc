"""Nominal diameter for a first estimate by load step, and the shifts of the step. Newton and metres."""

from __future__ import annotations

from functools import lru_cache

from evenpull.catalogue.tables import NotInCatalogue, table


@lru_cache(maxsize=1)
def load_steps() -> tuple[float, ...]:
    """The load steps of the table in N, rising."""
    return tuple(float(row["load"]) for row in table("first_size")["row"])


def size_classes() -> tuple[str, ...]:
    """Strength classes of the table."""
    return tuple(table("first_size")["classes"])


def smallest_size() -> float:
    """The smallest nominal diameter that the table names, in m."""
    return min(float(d) for row in table("first_size")["row"] for d in row.get("d", {}).values()) * 1e-3


def size_at_step(load_step: float, strength_class: str) -> float:
    """Nominal diameter (m) at a load step (N) of the table. NotInCatalogue for loads that are no step, for other
    classes and where the table names no size.
    """
    data = table("first_size")
    if strength_class not in data["classes"]:
        raise NotInCatalogue("class of the first estimate", strength_class, size_classes(), data["source"])
    row = next((row for row in data["row"] if row["load"] == load_step), None)
    if row is None:
        raise NotInCatalogue("load step", f"{load_step:g} N", tuple(f"{step:g} N" for step in load_steps()),
                             data["source"])
    if strength_class not in row.get("d", {}):
        have = tuple(f"{row['load']:g} N" for row in data["row"] if strength_class in row.get("d", {}))
        raise NotInCatalogue(f"load step with a size of class {strength_class}", f"{load_step:g} N", have,
                             data["source"])
    return float(row["d"][strength_class]) * 1e-3


def load_kinds() -> dict[str, int]:
    """Kind of load -> steps to go up."""
    return dict(table("first_size")["load_kind"])


def first_size_methods() -> dict[str, int]:
    """Way of tightening -> steps to go up."""
    return dict(table("first_size")["method"])


def first_size_source() -> tuple[str, str]:
    """Source and status of the table."""
    data = table("first_size")
    return data["source"], data["status"]
