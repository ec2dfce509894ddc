"""Help for the schema of a ring file and a commented file to start from, both made from the schema itself."""

from __future__ import annotations

from collections.abc import Mapping

from evenpull.plan.guide import WIDTH, HelpRow, field_at, schema_help
from evenpull.prediction.schema import RING_FORM, RingFile

_REPEATED = ("section", "material", "procedure")
# Whoever saves a template unchanged must not seem to have predicted a joint that exists.
_VALUES: Mapping[str, str] = {
    "ring.id": '"NEW-RING"', "ring.name": '"not stated yet"', "ring.basis": '"not stated yet"',
    "ring.revision": '"none"', "ring.notes": '"Template: not for work."',
    "flange.bore": '"324 mm"', "flange.raised_face.outside_diameter": '"415 mm"',
    "flange.neck.length": '"40 mm"', "bolt.class": '"8.8"', "section.length": '"30 mm"', "section.d": '"24 mm"',
    "facing.thickness": '"3 mm"', "facing.curve": '[["0 mm", "0 MPa"], ["0.15 mm", "10 MPa"], ["0.4 mm", "60 MPa"]]',
    "facing.unloading": '"800 MPa/mm"', "facing.basis": '"example; replace it"', "target.load": '"130 kN"',
    "procedure.order": '"star"', "procedure.passes": "[0.3, 0.7, 1.0]", "procedure.circular_passes": "1",
    "evenness.least": "0.85", "evenness.spread": '"20 %"',
}  # fmt: skip
_USED = (
    "ring", "flange", "flange.raised_face", "flange.neck", "bolt", "section", "counterpart", "facing", "target",
    "evenness", "procedure",
)  # fmt: skip


def ring_help() -> tuple[HelpRow, ...]:
    """Every key of a ring file in the order of the file."""
    return schema_help(RingFile)


def ring_template() -> str:
    """A ring file to start from: it reads without error, every key is explained, keys that are not needed stand in
    comments."""
    lines = [
        f'form = "{RING_FORM}"',
        "",
        "# Every key is explained beside it. Lines that begin with # are not used.",
        "# All values are examples: replace them by those of the drawing.",
    ]
    table = ""
    for row in ring_help():
        above, _, name = row.field.rpartition(".")
        if above != table:
            table = above
            mark = f"[[{table}]]" if table in _REPEATED else f"[{table}]"
            lines += ["", mark if table in _USED else f"# {mark}"]
        info = field_at(RingFile, row.field)
        needed = info is not None and info.is_required()
        text = f"{name} = {_VALUES.get(row.field) or row.example}"
        if not (table in _USED and (needed or row.field in _VALUES)):
            text = f"# {text}"
        lines.append(f"{text:<{WIDTH}}  # {row.meaning}; {row.allowed}")
    return "\n".join(lines) + "\n"
