"""Procedures as they are asked for: orders, passes, settings of single bolts or explicit steps, to pulls of the ring.

Bolts are numbered from 1 here, as on the card; `pulls_of` numbers them from 0, as the ring does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from evenpull.plan.model import Order
from evenpull.plan.orders import order_steps
from evenpull.prediction.values import MOST_SHARE, Steps
from evenpull.ring.stepping import Pull

MOST_PULLS = 4000


class ProcedureError(ValueError):
    """A procedure that cannot be carried out; `key` names what is wrong, `allowed` the way out."""

    def __init__(self, key: str, message: str, allowed: str) -> None:
        self.key, self.message, self.allowed = key, message, allowed
        super().__init__(f"{key}: {message}; allowed: {allowed}")


@dataclass(frozen=True, slots=True)
class RingPull:
    """Bolts (from 1) pulled at the same time, each to its share of the target load."""

    bolts: tuple[int, ...]
    shares: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class RingPass:
    name: str
    pulls: tuple[RingPull, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A procedure as a ring file asks for it; see the schema of [[procedure]]. One of passes, settings, steps."""

    name: str
    order: Order | None = None
    passes: tuple[float, ...] = ()
    circular_passes: int = 0
    tools_at_once: int = 1
    groups: tuple[tuple[int, ...], ...] = ()
    listed: tuple[int, ...] = ()
    settings: tuple[tuple[float, ...], ...] = ()
    steps: Steps = ()


@dataclass(frozen=True, slots=True)
class RingProcedure:
    name: str
    passes: tuple[RingPass, ...]
    tools_at_once: int
    asked: Asked | None = field(default=None)

    @property
    def pulls(self) -> tuple[RingPull, ...]:
        return tuple(pull for one in self.passes for pull in one.pulls)

    @property
    def words(self) -> str:
        """What is done, in one line: "star 30/70/100 %, 1 circular pass, 2 tools at once"."""
        asked, parts = self.asked, []
        if asked is None or asked.steps:
            parts.append(f"{len(self.pulls)} steps as listed")
        elif asked.settings:
            parts.append(f"{asked.order}, a setting for each bolt in {_counted(len(asked.settings), 'pass', 'passes')}")
        else:
            parts.append(f"{asked.order} {'/'.join(f'{100 * share:g}' for share in asked.passes)} %")
        if asked is not None and asked.circular_passes:
            parts.append(_counted(asked.circular_passes, "circular pass", "circular passes"))
        parts.append(_counted(self.tools_at_once, "tool", "tools at once"))
        return ", ".join(parts)


def _counted(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def make_procedure(asked: Asked, count: int) -> RingProcedure:
    """The pulls of a procedure on a ring of `count` bolts. ProcedureError names the key at fault."""
    _one_way(asked)
    if not 1 <= asked.tools_at_once <= count:
        raise ProcedureError(
            "tools_at_once", f"{asked.tools_at_once} tools cannot work on {count} bolts", f"1 to {count}"
        )
    if asked.steps:
        passes, tools = [_explicit(asked, count)], max(len(bolts) for bolts, _ in asked.steps)
    else:
        passes, tools = _ordered(asked, count), asked.tools_at_once
    round_trip = order_steps("circular", count, tools_at_once=tools)
    for number in range(1, asked.circular_passes + 1):
        name = f"circular pass {number} of {asked.circular_passes}" if asked.circular_passes > 1 else "circular pass"
        passes.append(_level(f"{name} (100 %)", round_trip, 1.0))
    made = RingProcedure(asked.name, tuple(passes), tools, asked)
    if len(made.pulls) > MOST_PULLS:
        raise ProcedureError(
            "passes", f"{len(made.pulls)} pulls are more than anybody makes", f"at most {MOST_PULLS} pulls"
        )
    return made


def free_procedure(name: str, pulls: Sequence[RingPull], count: int) -> RingProcedure:
    """A procedure of single pulls, as a search finds it. ProcedureError when it leaves a bolt out."""
    _check_pulls(pulls, count, "steps")
    return RingProcedure(name, (RingPass("pulls as listed", tuple(pulls)),), max(len(pull.bolts) for pull in pulls))


def pulls_of(procedure: RingProcedure, target: float) -> tuple[Pull, ...]:
    """The pulls as the ring takes them: bolts from 0, loads in N."""
    return tuple(
        Pull(tuple(bolt - 1 for bolt in pull.bolts), tuple(share * target for share in pull.shares))
        for pull in procedure.pulls
    )


def _one_way(asked: Asked) -> None:
    ways = [name for name in ("passes", "settings", "steps") if getattr(asked, name)]
    if len(ways) > 1:
        raise ProcedureError(
            ways[1], f"{ways[0]} and {ways[1]} both say what is pulled", "one of passes, settings, steps"
        )
    if not ways:
        raise ProcedureError("passes", "nothing says how far the bolts are pulled", "passes, settings or steps")
    if ways == ["steps"]:
        for name in ("order", "groups", "listed"):
            if getattr(asked, name):
                raise ProcedureError(
                    name,
                    f"{name} does not go with steps, which are an order themselves",
                    f"leave {name} out, or passes instead of steps",
                )
    elif asked.order is None:
        raise ProcedureError("order", "the order is missing", "star, circular, grouped or listed")
    if asked.listed and asked.order != "listed":
        raise ProcedureError("listed", f"a sequence is listed, and the order is {asked.order}", 'order = "listed"')
    if asked.groups and asked.order != "grouped":
        raise ProcedureError("groups", f"groups are stated, and the order is {asked.order}", 'order = "grouped"')


def _ordered(asked: Asked, count: int) -> list[RingPass]:
    assert asked.order is not None
    for numbers, key in ((asked.listed, "listed"), ([b for group in asked.groups for b in group], "groups")):
        if numbers or asked.order == key:
            _each_once(numbers, count, key)
    try:
        order = order_steps(
            asked.order, count, tools_at_once=asked.tools_at_once, groups=asked.groups, listed=asked.listed
        )
    except ValueError as error:
        raise ProcedureError("order", str(error), f"an order of {count} bolts") from error
    if asked.settings:
        for row in asked.settings:
            if len(row) != count:
                raise ProcedureError(
                    "settings", f"{len(row)} settings for {count} bolts", f"{count} shares in each pass"
                )
            _check_shares(row, "settings")
        of = len(asked.settings)
        return [
            RingPass(
                f"pass {number} of {of} (own settings)",
                tuple(RingPull(step, tuple(row[bolt - 1] for bolt in step)) for step in order),
            )
            for number, row in enumerate(asked.settings, start=1)
        ]
    _check_shares(asked.passes, "passes")
    of = len(asked.passes)
    return [
        _level(f"pass {number} of {of} ({100 * share:g} %)", order, share)
        for number, share in enumerate(asked.passes, start=1)
    ]


def _level(name: str, order: Sequence[tuple[int, ...]], share: float) -> RingPass:
    return RingPass(name, tuple(RingPull(step, (share,) * len(step)) for step in order))


def _explicit(asked: Asked, count: int) -> RingPass:
    pulls = tuple(RingPull(bolts, (share,) * len(bolts)) for bolts, share in asked.steps)
    _check_pulls(pulls, count, "steps")
    return RingPass("steps as listed", pulls)


def _check_pulls(pulls: Sequence[RingPull], count: int, key: str) -> None:
    if not pulls:
        raise ProcedureError(key, "there is no pull", "steps that pull every bolt")
    for number, pull in enumerate(pulls, start=1):
        for bolt in pull.bolts:
            if not 1 <= bolt <= count:
                raise ProcedureError(key, f"step {number} names bolt {bolt}, the ring has {count}", f"1 to {count}")
            if pull.bolts.count(bolt) > 1:
                raise ProcedureError(key, f"step {number} pulls bolt {bolt} twice", "each bolt once in a step")
        _check_shares(pull.shares, key)
    left = sorted(set(range(1, count + 1)) - {bolt for pull in pulls for bolt in pull.bolts})
    if left:
        raise ProcedureError(
            key,
            f"{'bolt' if len(left) == 1 else 'bolts'} {_named(left)} of {count} would never be pulled",
            "every bolt in at least one step",
        )


def _check_shares(shares: Sequence[float], key: str) -> None:
    for share in shares:
        if not 0 < share <= MOST_SHARE:
            raise ProcedureError(key, f"{share:g} times the target is no pull", f"more than 0, at most {MOST_SHARE:g}")


def _each_once(numbers: Sequence[int], count: int, key: str) -> None:
    for number in numbers:
        if not 1 <= number <= count:
            raise ProcedureError(key, f"bolt {number} does not exist, the ring has {count}", f"1 to {count}")
        if list(numbers).count(number) > 1:
            raise ProcedureError(key, f"bolt {number} stands in it twice", "each bolt once")
    left = sorted(set(range(1, count + 1)) - set(numbers))
    if left:
        raise ProcedureError(
            key,
            f"{'bolt' if len(left) == 1 else 'bolts'} {_named(left)} of {count} would never be pulled",
            "each bolt once",
        )


def _named(numbers: Sequence[int]) -> str:
    return ", ".join(map(str, numbers[:8])) + (" ..." if len(numbers) > 8 else "")
