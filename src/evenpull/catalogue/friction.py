"""Friction states, nut factors by surface condition, tightening factors and tool scatter. Plain numbers."""

from __future__ import annotations

import re
from dataclasses import dataclass

from evenpull.catalogue.tables import NotInCatalogue, table

Band3 = tuple[float, float, float]  # lowest, nominal, highest


@dataclass(frozen=True, slots=True)
class Lubricant:
    """One friction state: bands of mu_G = mu_K, and of K where a source gives one (never derived here)."""

    name: str
    mu_G: Band3
    mu_K: Band3
    K: Band3 | None
    friction_class: str
    source: str
    status: str
    note: str


def lubricants() -> tuple[Lubricant, ...]:
    """All friction states of the catalogue."""
    data = table("friction")
    found = []
    for row in data["lubricant"]:
        if "mu" in row:
            low, nominal, high = row["mu"]
        else:
            limits = data["classes"][row["class"]]
            low, high = limits["low"], limits["high"]
            nominal = round((low + high) / 2, 4)
        mu = (low, nominal, high)
        K = row.get("K")
        found.append(Lubricant(
            row["name"], mu, mu, None if K is None else (K[0], K[1], K[2]), row.get("class", ""), row["source"],
            row["status"], row.get("note", ""),
        ))
    return tuple(found)


def lubricant(name: str) -> Lubricant:
    """The friction state of this name. Raises NotInCatalogue with the names there are."""
    for found in lubricants():
        if found.name == name.strip():
            return found
    raise NotInCatalogue("lubricant", name, tuple(found.name for found in lubricants()))


def friction_class(name: str) -> tuple[float, float | None]:
    """Limits of mu in a friction class A to E; E has no upper one (VDI 2230-1 Table A5)."""
    classes = table("friction")["classes"]
    if name not in ("A", "B", "C", "D", "E"):
        raise NotInCatalogue("friction class", name, ("A", "B", "C", "D", "E"))
    return classes[name]["low"], classes[name].get("high")


@dataclass(frozen=True, slots=True)
class ClassExample:
    """Surfaces and lubricants that the table lists under a friction class."""

    friction_class: str
    surface: str
    lubricant: str


def class_examples(name: str | None = None) -> tuple[ClassExample, ...]:
    """What is listed under one friction class, or under all (VDI 2230-1 Table A5, from memory)."""
    if name is not None:
        friction_class(name)  # refuses what is no class
    rows = table("friction")["class_example"]
    return tuple(ClassExample(r["class"], r["surface"], r["lubricant"]) for r in rows if name in (None, r["class"]))


@dataclass(frozen=True, slots=True)
class NutFactor:
    """Nut factor of one surface condition as printed: a range, or one value with low = high."""

    condition: str
    low: float
    high: float
    source: str
    status: str


def nut_factors() -> tuple[NutFactor, ...]:
    """All printed nut factors."""
    rows = table("friction")["nut_factors"]["conditions"]
    return tuple(
        NutFactor(r["condition"], r.get("low", r.get("K")), r.get("high", r.get("K")), r["source"], r["status"])
        for r in rows
    )


def _words(text: str) -> tuple[str, ...]:
    """The words of a condition; "non-plated" and "nonplated" are one."""
    return tuple(re.findall(r"[a-z0-9]+", re.sub(r"\bnon-(?=[a-z])", "non", text.casefold())))


def printed_nut_factor(condition: str) -> NutFactor:
    """The printed nut factor of a surface condition. Raises NotInCatalogue with the conditions there are."""
    wanted = _words(condition)
    for found in nut_factors():
        if _words(found.condition) == wanted:
            return found
    raise NotInCatalogue("surface condition", condition, tuple(found.condition for found in nut_factors()))


def tightening_factor(method: str) -> tuple[float, float]:
    """Guide values of alpha_A = F_max/F_min for a tightening method (VDI 2230-1 Table A8)."""
    rows = table("friction")["tightening"]["methods"]
    for row in rows:
        if row["method"] == method:
            return row["low"], row["high"]
    raise NotInCatalogue("tightening method", method, tuple(row["method"] for row in rows))


def tightening_methods() -> tuple[str, ...]:
    """Names of the methods that have a guide value of alpha_A."""
    return tuple(row["method"] for row in table("friction")["tightening"]["methods"])


def preload_scatter(method: str) -> tuple[float, float]:
    """Lower and upper figure of the preload's scatter by method, +- share of its mean (VDI 2230:1986, reprint)."""
    rows = table("friction")["preload_scatter"]["methods"]
    for row in rows:
        if row["method"] == method:
            return row["low"], row["high"]
    raise NotInCatalogue("tightening method with a scatter", method, tuple(row["method"] for row in rows))


@dataclass(frozen=True, slots=True)
class ToolScatter:
    kind: str
    share: float  # largest deviation of the torque, +- share
    source: str
    status: str


def tool_scatter(kind: str) -> ToolScatter:
    """Deviation to reckon with for a kind of tool when no certificate says better."""
    rows = table("friction")["tools"]["kinds"]
    for row in rows:
        if row["kind"] == kind:
            return ToolScatter(row["kind"], row["share"], row["source"], row["status"])
    raise NotInCatalogue("kind of tool", kind, tuple(row["kind"] for row in rows))
