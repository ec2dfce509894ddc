"""Published losses of preload after tightening."""

from __future__ import annotations

from dataclasses import dataclass

from evenpull.catalogue.tables import table


@dataclass(frozen=True, slots=True)
class RelaxationGuide:
    """Share of the load that was lost under a condition, as a source gives it."""

    condition: str
    share: float
    source: str
    status: str


def relaxation_guides() -> tuple[RelaxationGuide, ...]:
    """All published losses of the catalogue."""
    return tuple(
        RelaxationGuide(r["condition"], r["share"], r["source"], r["status"]) for r in table("relaxation")["row"]
    )
