"""Reading the particulars of a row: texts as they are, quantities with an SI value where one can be told."""

from __future__ import annotations

from evenpull.intake.fields import FIELDS
from evenpull.intake.heading import Heading
from evenpull.intake.mapping import Mapping
from evenpull.intake.numbers import NumberError, NumberForm, part_unit
from evenpull.intake.record import Particular
from evenpull.intake.sources import tidy
from evenpull.quantities import UnitError, canonical_unit, to_si


class ParticularReader:
    """Reads the particulars of one file under one mapping."""

    def __init__(self, mapping: Mapping, heading: Heading) -> None:
        self._columns = [(one.name, heading.at[one.column], one.unit or "") for one in mapping.particulars]
        self._form = NumberForm(mapping.file.decimal, mapping.file.thousands)

    def of(self, cells: list[str], values: list[object], remarks: list[str]) -> dict[str, Particular]:
        """The particulars that the row states. What is no number keeps its text, and a remark says so."""
        found: dict[str, Particular] = {}
        for name, column, unit in self._columns:
            text = tidy(cells[column])
            if text:
                found[name] = self._one(name, text, values[column], unit, remarks)
        return found

    def _one(self, name: str, text: str, value: object, unit: str, remarks: list[str]) -> Particular:
        quantity = FIELDS[name].quantity
        if quantity is None:
            return Particular(text)
        number_text = text
        if not unit:
            number_text, unit = part_unit(text)
        try:
            ours = canonical_unit(unit, quantity)
            typed = isinstance(value, int | float) and not isinstance(value, bool)
            number = float(value) if typed else self._form.read(number_text)  # type: ignore[arg-type]
            return Particular(text, ours, to_si(number, ours, quantity))
        except (NumberError, UnitError) as error:
            remarks.append(f"{name}: {error}")
            return Particular(text, unit)
