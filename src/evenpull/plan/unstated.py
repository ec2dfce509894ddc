"""A thread that is not stated: what may then be left open, and what may not stand beside it as it needs the thread.

Without thread and class no load can be computed. Whatever would only serve that computation is refused, so that nobody
takes it for checked.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from evenpull.catalogue.heads import HOLE_SERIES
from evenpull.plan.model import NOT_STATED, NotStated
from evenpull.plan.toml_text import Known, Source
from evenpull.quantities import UnitError, parse

OPEN = NOT_STATED.text
WHY = "the thread is not stated, so no load can be computed"
_STATE_BOTH = "state thread and class"
_BOTH_OPEN = f'thread = "{OPEN}" and class = "{OPEN}" when no load is to be computed'
Place = tuple[str | int, ...]


def is_open(value: object) -> bool:
    """The value is the words "not stated"."""
    return isinstance(value, NotStated) or value == OPEN


def check_unstated(source: Source, f: Known, clamped: Sequence[Known], friction: Known, target: Known) -> bool:
    """Note what contradicts a thread that is not stated, or is left open beside one that is. True: it is not stated."""
    if not is_open(f.thread):
        if f.thread is not None:
            _all_stated(source, f, clamped, target)
        return False
    if f.strength_class is not None and not is_open(f.strength_class):
        source.fault(("fasteners", "class"), f.strength_class, f"the class {f.strength_class} is stated, but {WHY}",
                     f'class = "{OPEN}" (what is known of it belongs in notes.text), or {_STATE_BOTH}')
    for place, table, name in _useless(f, friction, target):
        source.fault(place, getattr(table, name) or "", f"{name} cannot be used: {WHY}",
                     f"leave the key out, or {_STATE_BOTH}")
    if target.rule is not None and not is_open(target.rule):
        source.fault(("target", "rule"), target.rule, f"the rule {target.rule!r} cannot be used: {WHY}",
                     f'rule = "{OPEN}", or {_STATE_BOTH}')
    if target.method == "torque and angle":
        source.fault(("target", "method"), target.method, f"with the angle the load is meant to be reached, but {WHY}",
                     f'method = "torque", or {_STATE_BOTH}')
    _hole(source, f)
    return True


def _useless(f: Known, friction: Known, target: Known) -> Iterator[tuple[Place, Known, str]]:
    for table, head, names in (
        (f, "fasteners", ("bearing_face",)),
        (friction, "friction", ("mu_G", "mu_K", "K", "basis")),
        (target, "target", ("preload", "utilisation", "required_preload", "utilisation_limit")),
    ):
        for name in names:
            if table.has(name):
                yield (head, name), table, name


def _hole(source: Source, f: Known) -> None:
    if f.hole is None or is_open(f.hole) or f.hole.strip() in HOLE_SERIES:
        return
    try:
        parse(f.hole, "length")
    except UnitError as error:
        source.fault(("fasteners", "hole"), f.hole, f"{f.hole!r} is neither a series nor a diameter: {error.reason}",
                     f"fine, medium, coarse, a diameter with its unit such as 26 mm, or {OPEN}")


def _all_stated(source: Source, f: Known, clamped: Sequence[Known], target: Known) -> None:
    """A thread is stated: the load is computed and needs the rest."""
    if is_open(f.strength_class):
        source.fault(("fasteners", "class"), OPEN, f"the class is not stated, but the thread is ({f.thread}): without "
                     "the class no load can be judged", f"the class, or {_BOTH_OPEN}")
    names = ("length", "head", "engagement", "washer_under_head", "washer_under_nut", "hole", "condition")
    left_open: list[Place] = [("fasteners", name) for name in names if is_open(getattr(f, name))]
    left_open += [("clamped", index, "thickness") for index, part in enumerate(clamped) if is_open(part.thickness)]
    if is_open(target.rule):
        left_open.append(("target", "rule"))
    for place in left_open:
        source.fault(place, OPEN, f"{place[-1]} is not stated, but the thread is ({f.thread}): the load is computed "
                     "and judged with it", f"what the specification says, or {_BOTH_OPEN}")
