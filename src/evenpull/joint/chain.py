"""Collecting the steps of a computation in order, each symbol once."""

from __future__ import annotations

from collections.abc import Mapping

from evenpull.joint.target import FastenerCase, TorqueCase
from evenpull.joint.traced import Traced


class Chain:
    """The steps so far. `chain["d_2"]` is the value of a step already made."""

    def __init__(self, case: FastenerCase | TorqueCase) -> None:
        self.steps: list[Traced] = []
        self._values: dict[str, float] = {}
        self._sources = case.sources

    def __getitem__(self, symbol: str) -> float:
        return self._values[symbol]

    def said(self, field: str) -> str:
        """Where a stated input comes from, as far as the case says it."""
        return self._sources.get(field, "stated for this joint")

    def add(
        self, symbol: str, name: str, value: float, unit: str, formula: str, source: str, status: str = "computed",
        *, inputs: Mapping[str, float] | None = None,
    ) -> None:
        if symbol in self._values:
            raise ValueError(f"symbol {symbol} is already in the chain")
        if formula == "stated":
            status = "stated"
        self._values[symbol] = value
        self.steps.append(Traced(symbol, name, value, unit, formula, source, status, dict(inputs or {})))
