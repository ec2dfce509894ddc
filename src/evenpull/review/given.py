"""What a person or a command states of a finding, as texts, turned into values. The only door: page and command use it.

Every fault is told at once, by the name of its field, with what is allowed.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Literal, cast

from evenpull.instrument.deviation import relative_deviation
from evenpull.quantities import Kind as Quantity
from evenpull.quantities import UnitError, parse
from evenpull.review.found import FOUND_KINDS, MEANING, Found, FoundKind, FoundPoint
from evenpull.review.suspects import ReviewError

MOMENT = "a time in UTC such as 2026-09-01 14:30, or a day"


@dataclass(frozen=True, slots=True)
class Asked:
    """One field of the form."""

    name: str
    label: str
    hint: str
    form: Literal["text", "choice", "moment"] = "text"
    required: bool = False
    choices: tuple[str, ...] = ()


ASKED: tuple[Asked, ...] = (
    Asked("serial", "Serial of what was found out", "wrench, chain, multiplier, adapter, gauge or reference standard",
          required=True),
    Asked("kind", "What was found", "; ".join(f"{k}: {v}" for k, v in MEANING.items()), "choice", True, FOUND_KINDS),
    Asked("words", "In your own words", "what was seen, by whom, where", required=True),
    Asked("at", "When it was found (UTC)", "the end of the suspect period; " + MOMENT, "moment", True),
    Asked("certificate", "Certificate with the as-found points", "its number in the register; empty where none is"),
    Asked("withdrawn", "Certificate that was withdrawn", "its number; it is then no evidence"),
    Asked("event", "Known drop, overload or repair (UTC)", "parts the period in two for the third model; " + MOMENT,
          "moment"),
    Asked("set", "Shift check: set or shown", "with its unit: 100 N.m"),
    Asked("gave", "Shift check: the device showed", "with its unit: 92 N.m"),
    Asked("stated", "Ratio that was stated", "of a multiplier or adapter: 13.2"),
    Asked("true", "Ratio that was found", "12.54"),
    Asked("uncertainty", "Uncertainty of what was measured (k = 2)", "of the check or of the ratio: 1 %"),
    Asked("repeat", "Uncertainty of repeatability", "relative, k = 1; empty where the certificate's points hold it"),
    Asked("operator", "Uncertainty of the operator", "relative, k = 1; 1 % when empty (common practice, no source)"),
    Asked("kept", "Share of the load left after settling", "100 % when empty"),
)


def read_found(values: Mapping[str, str]) -> Found:
    """The finding. ReviewError with every fault."""
    faults: list[str] = []
    text = {one.name: " ".join(values.get(one.name, "").split()) for one in ASKED}
    for one in ASKED:
        if one.required and not text[one.name]:
            faults.append(f"{one.label}: nothing stands here ({one.hint})")
    kind = text["kind"]
    if kind and kind not in FOUND_KINDS:
        faults.append(f"What was found: {kind[:40]!r} is not one of: {', '.join(FOUND_KINDS)}")
    at, event = (_moment(name, text[name], faults) for name in ("at", "event"))
    W = _share("uncertainty", text["uncertainty"], 0.01, faults)
    more: dict[str, Any] = {
        "w_repeat": _share("repeat", text["repeat"], 0.0, faults),
        "w_operator": _share("operator", text["operator"], 0.01, faults),
        "kept": _share("kept", text["kept"], 1.0, faults),
        "points": _points(text, W, faults), "deviation": _deviation(text, W, faults),
    }
    if faults:
        raise ReviewError("; ".join(faults))
    assert at is not None
    try:
        return Found(
            kind=cast(FoundKind, kind), serial=text["serial"], at=at, words=text["words"],
            certificate=text["certificate"], withdrawn=text["withdrawn"], event=event, **more)
    except ValueError as error:
        raise ReviewError(str(error)) from error


def _label(name: str) -> str:
    return next(one.label for one in ASKED if one.name == name)


def _moment(name: str, text: str, faults: list[str]) -> float | None:
    if not text:
        return None
    try:
        when = datetime.fromisoformat(text.replace(" UTC", ""))
    except ValueError:
        faults.append(f"{_label(name)}: {text[:40]!r} is no time; allowed: {MOMENT}")
        return None
    if len(text) == 10 and name == "at":  # a day: its end, so that the whole day is suspect
        when = when.replace(hour=23, minute=59, second=59)
    return (when if when.tzinfo else when.replace(tzinfo=UTC)).timestamp()


def _share(name: str, text: str, default: float, faults: list[str]) -> float:
    """A share, as 1 % or 0.01."""
    if not text:
        return default
    try:
        value = float(text.removesuffix("%")) / (100 if text.endswith("%") else 1)
    except ValueError:
        value = math.nan
    if not 0 <= value <= 1:
        faults.append(f"{_label(name)}: {text[:40]!r} is no share; allowed: 0 to 100 %, such as 1 % or 0.01")
        return default
    return value


def _points(text: Mapping[str, str], W: float, faults: list[str]) -> tuple[FoundPoint, ...]:
    if not text["set"] and not text["gave"]:
        return ()
    found = []
    for name in ("set", "gave"):
        found.append(_quantity(name, text[name], faults))
    if None in found:
        return ()
    X, true = cast(list[float], found)
    return (FoundPoint(X, float(relative_deviation(X, true)), W / 2),)


def _quantity(name: str, text: str, faults: list[str]) -> float | None:
    kinds: tuple[Quantity, ...] = ("torque", "stress")
    for kind in kinds:
        try:
            value = parse(text, kind).si
        except (UnitError, ValueError):
            continue
        if value > 0:
            return value
    faults.append(f"{_label(name)}: {text[:40]!r} is no torque or pressure above zero; allowed: 100 N.m, 74 lbf.ft, "
                  "500 bar; both of set and shown are needed")
    return None


def _deviation(text: Mapping[str, str], W: float, faults: list[str]) -> tuple[float, float] | None:
    """(stated - true)/true of a ratio, as `instrument.deviation.relative_deviation` defines it."""
    if not text["stated"] and not text["true"]:
        return None
    try:
        stated, true = float(text["stated"]), float(text["true"])
        if not (0 < stated < math.inf and 0 < true < math.inf):
            raise ValueError("not above zero")
    except ValueError:
        faults.append(f"{_label('stated')} and {_label('true').lower()}: both are needed, as numbers above zero such "
                      "as 13.2 and 12.54")
        return None
    return float(relative_deviation(stated, true)), W / 2
