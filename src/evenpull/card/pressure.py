"""The caution beside the map: fasteners that hold the pressure of the joint."""

from __future__ import annotations

from evenpull.card.texts import numbers_in_words
from evenpull.plan.model import Specification

CAUTION_HEIGHT = 20.0  # mm that it takes from the map, at most


def pressure_caution(spec: Specification) -> tuple[str, str, str] | None:
    """(which fasteners and never what, when to stop, who decides) as printed; None when the joint names none."""
    numbers = list(spec.gates.never_loosen)
    if not numbers:
        return None
    if len(numbers) == spec.fasteners.count:
        which = "All fasteners of this joint hold"
    else:
        which = f"{'Fasteners' if len(numbers) > 1 else 'Fastener'} {numbers_in_words(numbers)} " + (
            "hold" if len(numbers) > 1 else "holds"
        )
    return (
        f"{which} the pressure: never loosen one while the joint is under pressure. It can open towards you.",
        "Stop unless zero pressure is proven at this joint.",
        "the issuer of the permit, under the rules of the site; this card opens nothing.",
    )
