"""Checks of the guideline: a safety or a load against what is demanded."""

from __future__ import annotations

from evenpull.joint.result import Check


def at_least(symbol: str, name: str, value: float, limit: float, unit: str, source: str) -> Check:
    """`value` has to be `limit` or more."""
    fine = value >= limit * (1 - 1e-9)
    return Check(symbol, name, value, ">=", limit, unit, fine, "" if fine else "too little", source)


def at_most(symbol: str, name: str, value: float, limit: float, unit: str, source: str) -> Check:
    """`value` has to be `limit` or less."""
    fine = value <= limit * (1 + 1e-9)
    return Check(symbol, name, value, "<=", limit, unit, fine, "" if fine else "too much", source)


def not_judged(symbol: str, name: str, limit: float | None, why: str, source: str) -> Check:
    """What cannot be judged, and why."""
    return Check(symbol, name, None, ">=", limit, "1", None, why, source)
