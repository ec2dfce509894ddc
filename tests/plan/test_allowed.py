"""A refused quantity says between which limits it may lie, and in which units."""

from __future__ import annotations

from typing import Annotated, Any

import pytest
from pydantic import TypeAdapter, ValidationError

from evenpull.calculation.values import quantity as of_a_calculation
from evenpull.plan.values import quantity as of_a_plan
from evenpull.quantities import units_for


@pytest.mark.parametrize("quantity", [of_a_plan, of_a_calculation])
@pytest.mark.parametrize("value", [7, "seven", "7 N", "-7 mm", "7 km", ["7 mm"]])
def test_what_may_stand_there_is_said(quantity: Any, value: object) -> None:
    with pytest.raises(ValidationError) as caught:
        TypeAdapter(Annotated[Any, quantity("length", 0.002, 0.5)]).validate_python(value)
    (fault,) = caught.value.errors()
    assert fault["ctx"]["allowed"] == f"a length with its unit, 2 mm to 500 mm; units: {', '.join(units_for('length'))}"
