"""Which inputs of a case are stated and which of them a rule set leaves unused, for the rule sets' own lists."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import MISSING, Field, fields, is_dataclass
from typing import Any

from evenpull.joint.case import JointCase

_ALWAYS = ("name", "sources")
_ABOUT = ("source", "status")  # they say where a value comes from and are none themselves


def _default(field: Field[Any]) -> Any:
    if field.default is not MISSING:
        return field.default
    return field.default_factory() if field.default_factory is not MISSING else MISSING


def _stated(value: Any, path: str, depth: int) -> Iterator[str]:
    for field in fields(value):
        mine, default = getattr(value, field.name), _default(field)
        if mine is None or (default is not MISSING and mine == default):
            continue
        name = f"{path}{field.name}"
        if depth and is_dataclass(mine) and not isinstance(mine, type):
            yield from _stated(mine, f"{name}.", depth - 1)
        else:
            yield name


def stated(case: JointCase) -> tuple[str, ...]:
    """Dotted names of the inputs that differ from "not stated", down to one dot: "loads.F_A_max", "layers"."""
    found = tuple(_stated(case, "", 1))
    return tuple(name for name in found if name.split(".")[0] not in _ALWAYS and name.split(".")[-1] not in _ABOUT)


def unused(case: JointCase, used: Collection[str]) -> tuple[str, ...]:
    """The inputs that are stated and not in `used`; "bolt" in `used` stands for all of "bolt.…"."""
    return tuple(name for name in stated(case) if name not in used and name.split(".")[0] not in used)
