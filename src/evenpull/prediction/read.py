"""Reading a ring file: TOML text to a `Prediction`, or every fault at once with file, line and field."""

from __future__ import annotations

from pathlib import Path

from evenpull.plan.toml_text import check_schema, read_file, read_toml
from evenpull.prediction.build import built
from evenpull.prediction.checks import check_together
from evenpull.prediction.model import Prediction
from evenpull.prediction.schema import RING_FORM, RingFile

LARGEST = 400_000  # characters: explicit steps are long
WHAT = "a ring file"


def read_prediction(text: str, file: str) -> Prediction:
    """The prediction in a TOML text; `file` names it in errors. Raises SpecificationError with all faults.

    What the sizes of the ring say together can only be checked when each of them is right; it comes in a second round.
    """
    source = read_toml(text, file, most=LARGEST, what=WHAT, form=RING_FORM)
    check_schema(source, RingFile)
    found = check_together(source)
    source.refuse_if_faulty()
    made = built(source, RingFile.model_validate(source.data), found)
    source.refuse_if_faulty()
    assert made is not None  # faultless
    return made


def read_prediction_file(path: Path) -> Prediction:
    """The prediction in a file. SpecificationError also for a file that is not UTF-8 or too large."""
    return read_prediction(read_file(path, most=LARGEST, what=WHAT), str(path))
