"""Taking in what tools wrote: a mapping file says how, a reading says what came out, row by row, nothing dropped."""

from evenpull.intake.cells import Cells
from evenpull.intake.limits import MAX_BYTES, MAX_ROWS, MAX_XLSX_BYTES
from evenpull.intake.mapping import Mapping, MappingError, mapping_help, read_mapping
from evenpull.intake.plain import canonical_tightening, from_json, to_json
from evenpull.intake.read import read_bytes, read_file
from evenpull.intake.record import IntakeError, Reading, SetAside, Tightening, UnreadRow

__all__ = [
    "MAX_BYTES", "MAX_ROWS", "MAX_XLSX_BYTES", "Cells", "IntakeError", "Mapping", "MappingError", "Reading", "SetAside",
    "Tightening", "UnreadRow",
    "canonical_tightening", "from_json", "mapping_help", "read_bytes", "read_file", "read_mapping", "to_json",
]
