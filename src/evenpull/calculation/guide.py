"""Help for the schema of a calculation file and a commented file to start from, both made from the schema itself."""

from __future__ import annotations

from collections.abc import Mapping

from evenpull.calculation.schema import CALCULATION_FORM, CalculationFile
from evenpull.joint.rules import rule_sets
from evenpull.plan.guide import WIDTH, HelpRow, field_at, schema_help

_REPEATED = ("section", "layer", "material")
# Whoever saves a template unchanged must not seem to have calculated a joint that exists.
_VALUES: Mapping[str, str] = {
    "calculation.id": '"NEW-CALCULATION"', "calculation.name": '"not stated yet"', "calculation.rules": '["vdi2230"]',
    "calculation.basis": '"not stated yet"', "calculation.revision": '"none"',
    "calculation.notes": '"Template: not for work."',
    "counterpart.class": '"8"', "friction.lubricant": '"oil film"', "tightening.alpha_A": "1.6",
    "loads.F_A_max": '"25 kN"', "loads.F_Kerf": '"60 kN"', "loads.n": "0.5", "embedding.Rz": '"10-<40"',
    "bolt.class": '"8.8"', "bolt.length": '"100 mm"', "section.length": '"36 mm"', "section.d": '"24 mm"',
    "layer.thickness": '"60 mm"', "layer.D_A": '"60 mm"',
    "material.name": '"steel"', "material.E": '"205 GPa"', "material.alpha": '"11.5e-6 1/K"',
    "material.R_m": '"490 MPa"', "material.R_p02": '"300 MPa"', "material.p_G": '"760 MPa"',
    "material.tau_B": '"300 MPa"', "material.basis": '"example; replace it"',
}
_USED = ("calculation", "bolt", "section", "counterpart", "layer", "material", "friction",
         "tightening", "loads", "embedding")


def calculation_help() -> tuple[HelpRow, ...]:
    """Every key of a calculation file in the order of the file."""
    return schema_help(CalculationFile)


def calculation_template() -> str:
    """A calculation file to start from: it reads without error, every key is explained, keys that are not needed stand
    in comments.
    """
    known = "; ".join(f"{rule.key}: {rule.title}" for rule in rule_sets())
    lines = [f'form = "{CALCULATION_FORM}"', "", "# Every key is explained beside it. Lines that begin with # are not "
             "used.", "# All values are examples: replace them by those of the joint.", f"# Rule sets: {known}"]
    table = ""
    for row in calculation_help():
        above, _, name = row.field.rpartition(".")
        if above != table:
            table = above
            mark = f"[[{table}]]" if table in _REPEATED else f"[{table}]"
            lines += ["", mark if table in _USED else f"# {mark}"]
        info = field_at(CalculationFile, row.field)
        needed = info is not None and info.is_required()
        text = f"{name} = {_VALUES.get(row.field) or row.example}"
        if not (table in _USED and (needed or row.field in _VALUES)):
            text = f"# {text}"
        lines.append(f"{text:<{WIDTH}}  # {row.meaning}; {row.allowed}")
    return "\n".join(lines) + "\n"
