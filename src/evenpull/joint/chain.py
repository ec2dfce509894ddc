"""Collecting the steps of a computation in order, each symbol once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from evenpull.joint.result import StepGroup
from evenpull.joint.traced import Traced


class Chain:
    """The steps so far. `chain["d_2"]` is the value of a step already made.

    `sources` says where stated inputs come from. With `group` the steps that follow belong to a titled group.
    """

    def __init__(self, sources: Mapping[str, str]) -> None:
        self.steps: list[Traced] = []
        self._values: dict[str, float] = {}
        self._sources = sources
        self._groups: list[tuple[str, str, int]] = []

    def __getitem__(self, symbol: str) -> float:
        return self._values[symbol]

    def __contains__(self, symbol: object) -> bool:
        return symbol in self._values

    def said(self, field: str) -> str:
        """Where a stated input comes from, as far as the case says it."""
        return self._sources.get(field, "stated for this joint")

    def group(self, title: str, note: str = "") -> None:
        """The steps that follow belong to this group; `note` says why it may stay without any."""
        self._groups.append((title, note, len(self.steps)))

    def groups(self) -> tuple[StepGroup, ...]:
        """The steps by group. ValueError when a step stands before the first group."""
        if self.steps and (not self._groups or self._groups[0][2] > 0):
            raise ValueError("a step stands before the first group")
        ends = [start for _, _, start in self._groups[1:]] + [len(self.steps)]
        return tuple(
            StepGroup(title, tuple(self.steps[start:end]), note)
            for (title, note, start), end in zip(self._groups, ends, strict=True)
        )

    def add(
        self, symbol: str, name: str, value: float, unit: str, formula: str, source: str, status: str = "computed",
        *, inputs: Mapping[str, float] | None = None,
    ) -> float:
        """Adds a step and gives its value back. `formula` is "symbol = expression in the symbols of inputs" or "stated"
        (or a designation); each symbol stands once.
        """
        if symbol in self._values:
            raise ValueError(f"symbol {symbol} is already in the chain")
        if formula == "stated":
            status = "stated"
        self._values[symbol] = value
        self.steps.append(Traced(symbol, name, value, unit, formula, source, status, dict(inputs or {})))
        return value

    def take(self, steps: Iterable[Traced]) -> None:
        """Adds the steps of a computation of its own. One that is here already with the same value is left out;
        ValueError when its value is another one.
        """
        for step in steps:
            if step.symbol not in self._values:
                self._values[step.symbol] = step.value
                self.steps.append(step)
            elif self._values[step.symbol] != step.value:
                raise ValueError(f"symbol {step.symbol} has two values: {self._values[step.symbol]}, {step.value}")

    def get(self, *symbols: str) -> dict[str, float]:
        """Values of steps already made, by symbol: the inputs of the next one."""
        return {symbol: self._values[symbol] for symbol in symbols}
