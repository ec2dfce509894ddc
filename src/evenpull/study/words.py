"""Numbers and sentences that all results of a study share."""

from __future__ import annotations

from collections.abc import Iterable

from evenpull.quantities import figures
from evenpull.study.model import Place, Study
from evenpull.study.result import Figure


def number(value: float, digits: int = 4) -> str:
    """A number with so many significant figures and a true minus."""
    return figures(value, digits).replace("-", "−")


def with_unit(value: float, unit: str, digits: int = 4) -> str:
    """"12.3 N·m"; a unit of "" or "1" is left out."""
    return number(value, digits) + (f" {unit}" if unit not in ("", "1") else "")


def between(low: float | None, high: float | None, unit: str = "", digits: int = 3) -> str:
    """"1.2 to 3.4 N·m"; one side alone is told as such."""
    if low is None or high is None:
        return "no limits" if low is None and high is None else (
            f"at most {with_unit(high, unit, digits)}" if high is not None else
            f"at least {with_unit(low or 0.0, unit, digits)}")
    return f"{number(low, digits)} to {with_unit(high, unit, digits)}"


def told(figure: Figure, digits: int = 3) -> str:
    """"0.45 N·m (0.38 to 0.55)"."""
    limits = "" if figure.low is None or figure.high is None else f" ({between(figure.low, figure.high, '', digits)})"
    return f"{with_unit(figure.value, figure.unit, digits)}{limits}"


def percent(share: float, digits: int = 3) -> str:
    return f"{number(100 * share, digits)} %"


def seldom(share: float) -> str:
    """A share that may be very small, in %."""
    return percent(share, 2) if share >= 1e-6 or share == 0 else "less than 0.0001 %"


def p_shown(p: float) -> str:
    """A probability as it is told: very small ones as a bound."""
    return "p < 0.0001" if p < 1e-4 else f"p = {number(p, 2)}"


def counted(n: int, one: str, many: str = "") -> str:
    return f"{n} {one if n == 1 else many or one + 's'}"


def listed(names: Iterable[str], most: int = 12) -> str:
    """Names in a row; beyond `most` only how many more there are."""
    held = list(names)
    more = f" and {len(held) - most} more" if len(held) > most else ""
    return ", ".join(held[:most]) + more


def place_shown(study: Study, place: Place) -> str:
    """"S. Tamblyn, target 150 N.m, no. 2"."""
    person, part, replicate = place
    parts = [person] if person else []
    if part:
        parts.append(f"{study.part_word} {part}")
    parts.append(f"no. {replicate}")
    return ", ".join(parts)
