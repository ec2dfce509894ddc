"""Reading a calculation file: TOML text to a `Calculation`, or every fault at once with file, line and field."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from evenpull.calculation.checks import Found, check_together
from evenpull.calculation.hot import FromTable, ratios_at_temperature
from evenpull.calculation.inputs import input_rows, sources_of
from evenpull.calculation.model import Calculation
from evenpull.calculation.schema import CALCULATION_FORM, CalculationFile
from evenpull.joint.case import (
    AviationInput,
    Bolt,
    Counterpart,
    Eccentricity,
    Embedding,
    FlangeInput,
    Gasket,
    JointCase,
    Layer,
    Limits,
    Loads,
    Section,
    Service,
    SpaceInput,
    StructuralInput,
    Tightening,
)
from evenpull.joint.traced import Band
from evenpull.plan.keys import Table
from evenpull.plan.toml_text import check_schema, read_file, read_toml

LARGEST = 100_000  # characters
WHAT = "a calculation file"


def read_calculation(text: str, file: str) -> Calculation:
    """The calculation in a TOML text; `file` names it in errors. Raises SpecificationError with all faults."""
    source = read_toml(text, file, most=LARGEST, what=WHAT, form=CALCULATION_FORM)
    check_schema(source, CalculationFile)
    found = check_together(source)
    source.refuse_if_faulty()
    read = CalculationFile.model_validate(source.data)
    c = read.calculation
    hot = ratios_at_temperature(read, found)
    return Calculation(
        id=c.id, name=c.name, revision=c.revision, joint=c.joint or "", rules=c.rules, basis=c.basis,
        notes=c.notes or "", case=_case(read, found, sources_of(read, found, hot), hot),
        inputs=input_rows(source.data, read, found, hot), text=text, file=file,
    )


def read_calculation_file(path: Path) -> Calculation:
    """The calculation in a file. SpecificationError also for a file that is not UTF-8 or too large."""
    return read_calculation(read_file(path, most=LARGEST, what=WHAT), str(path))


def _plain(table: Table, *left_out: str) -> dict[str, Any]:
    """The values of a table by field name, "not stated" and the basis left out: the case has its own defaults."""
    return {
        name: getattr(table, name) for name in type(table).model_fields
        if name not in ("basis", *left_out) and getattr(table, name) is not None
    }


def _case(
    read: CalculationFile, found: Found, sources: Mapping[str, str], hot: Mapping[str, FromTable]
) -> JointCase:
    # check_together has refused the file where one of these is missing; the type checker only sees optionals.
    assert found.size and found.strength and found.friction and found.head_face
    b, c, t = read.bolt, read.counterpart, read.tightening
    return JointCase(
        name=read.calculation.name,
        bolt=Bolt(
            thread=found.size, strength=found.strength, material=found.materials["bolt"], head=b.head,
            d_w=found.head_face.value, sections=tuple(Section(s.length, s.d, s.d_i) for s in read.section), d_i=b.d_i,
            length=b.length,
        ),
        counterpart=Counterpart(
            kind=c.kind,  # type: ignore[arg-type]
            material=found.materials["counterpart"], engagement=c.engagement,
            d_w=found.nut_face.value if found.nut_face else None,
            nut_proof_stress=found.nut_proof.value if found.nut_proof else None,
        ),
        layers=tuple(
            Layer(
                name=layer.part, length=layer.thickness, material=found.materials[f"layer {index}"],
                d_h=found.holes[index].value, D_A=layer.D_A, washer=layer.washer, slot_length=layer.slot_length,
                chamfer=layer.chamfer,
            )
            for index, layer in enumerate(read.layer)
        ),
        friction=found.friction,
        tightening=Tightening(
            **_plain(t, "prevailing", "elastic_interaction"), prevailing=t.prevailing or Band(0.0, 0.0, 0.0),
            source=t.basis or read.calculation.basis,
        ),
        loads=Loads(**_plain(read.loads)),
        service=Service(**_plain(read.service), **{name: ratio.value for name, ratio in hot.items()}),
        embedding=Embedding(**_plain(read.embedding)),
        limits=Limits(**_plain(read.limits)),
        gasket=Gasket(**_plain(read.gasket), source=read.gasket.basis) if read.gasket else None,
        eccentricity=Eccentricity(**_plain(read.eccentricity)) if read.eccentricity else None,
        structural=StructuralInput(**_plain(read.structural)) if read.structural else None,
        space=SpaceInput(**_plain(read.space)) if read.space else None,
        flange=FlangeInput(**_plain(read.flange)) if read.flange else None,
        aviation=AviationInput(**_plain(read.aviation)) if read.aviation else None,
        elastic_interaction=t.elastic_interaction,
        sources=sources,
    )
