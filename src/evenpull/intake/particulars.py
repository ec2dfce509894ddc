"""Reading the particulars of a row: texts as they are, quantities with an SI value where one can be told.

A particular never keeps a row from becoming a record: what cannot be read keeps its text, and a remark says why.
"""

from __future__ import annotations

import re
from collections.abc import Mapping as Table
from dataclasses import dataclass

from evenpull.intake.fields import FIELDS
from evenpull.intake.heading import Heading
from evenpull.intake.mapping import Mapping
from evenpull.intake.numbers import NumberError, NumberForm, part_unit
from evenpull.intake.record import Particular
from evenpull.intake.sources import LONGEST_MATCHED, tidy
from evenpull.intake.textrows import Fault
from evenpull.plan.values import shown
from evenpull.quantities import UnitError, canonical_unit, to_si


@dataclass(frozen=True, slots=True)
class _Place:
    name: str
    column: int
    pattern: re.Pattern[str] | None
    unit: str
    unit_column: int | None


class ParticularReader:
    """Reads the particulars of one file under one mapping."""

    def __init__(self, mapping: Mapping, heading: Heading) -> None:
        at = heading.at
        self._places = [
            _Place(one.name, at[one.column], one.pattern, one.unit or "",
                   None if one.unit_column is None else at[one.unit_column])
            for one in mapping.particulars
        ]
        self._form = NumberForm(mapping.file.decimal, mapping.file.thousands)

    def of(
        self, cells: list[str], values: list[object], faulty: Table[int, Fault], remarks: list[str]
    ) -> dict[str, Particular]:
        """The particulars that the row states; `faulty` are cells that cannot be trusted, with the reason."""
        found: dict[str, Particular] = {}
        for place in self._places:
            text = tidy(cells[place.column])
            fault = faulty.get(place.column)
            if fault is None and place.unit_column is not None:
                fault = faulty.get(place.unit_column)
            if fault is not None:
                remarks.append(f"{place.name}: {fault.reason}")
                if text:
                    found[place.name] = Particular(text)
            elif text:
                found[place.name] = self._one(place, text, cells, values, remarks)
        return found

    def _one(
        self, place: _Place, text: str, cells: list[str], values: list[object], remarks: list[str]
    ) -> Particular:
        name, value = place.name, values[place.column]
        meant = text
        if place.pattern is not None:
            part = place.pattern.search(text) if len(text) <= LONGEST_MATCHED else None
            if part is None:
                remarks.append(f"{name}: {shown(text)} does not match the pattern {place.pattern.pattern!r}")
                return Particular(text)
            meant, value = tidy(part[1] or ""), None
        quantity = FIELDS[name].quantity
        if quantity is None:
            return Particular(meant)
        unit, number_text = place.unit, meant
        if place.unit_column is not None:
            unit = tidy(cells[place.unit_column])
        elif not unit:
            number_text, unit = part_unit(meant)
        try:
            ours = canonical_unit(unit, quantity)
            typed = isinstance(value, int | float) and not isinstance(value, bool)
            number = float(value) if typed else self._form.read(number_text)  # type: ignore[arg-type]
            return Particular(meant, ours, to_si(number, ours, quantity))
        except (NumberError, UnitError) as error:
            remarks.append(f"{name}: {error}")
            return Particular(meant, unit)
