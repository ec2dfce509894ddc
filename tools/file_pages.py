"""Write docs/files.md, the reference of the files a person writes, from the schemas that check them.

python tools/file_pages.py            (a test keeps the page equal to the schemas)
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from evenpull.calculation import calculation_help
from evenpull.equipment.guide import keeper_help
from evenpull.intake import mapping_help
from evenpull.intake.curve_mapping import curve_mapping_help
from evenpull.plan import schema_help, tools_help
from evenpull.prediction.guide import ring_help
from evenpull.study.guide import study_help

PAGE = Path(__file__).parent.parent / "docs" / "files.md"
HEAD = """# The files you write

Ten kinds of TOML file describe your work: joints, tools, how a tool writes its records and how its curves, chains and
devices with their certificates, how a laboratory writes its tables, calculations, rings whose bolt loads are predicted,
and studies of tools and persons. Unknown keys, missing units and impossible sizes are refused with file, line, field
and what is allowed. Complete examples stand under `src/evenpull/demo/kestrel_narrows/`; `evenpull new` writes a
commented joint file to start from (or `evenpull new equipment`, `certificates`, `certificate-mapping`), `evenpull
calculate --new` a calculation file, `evenpull ring --new` a ring file, `evenpull study new` a study file.

This page is made from the schemas that check the files (`tools/file_pages.py`).
"""
COLUMNS = ("key", "meaning", "allowed", "needed", "example")


def cell(text: str) -> str:
    return " ".join(text.split()).replace("|", "\\|")


def table(rows: Iterable[tuple[str, ...]]) -> list[str]:
    out = ["| " + " | ".join(COLUMNS) + " |", "|" + " --- |" * len(COLUMNS)]
    out += ["| " + " | ".join(cell(value) for value in row) + " |" for row in rows]
    return out


def page() -> str:
    """The whole page."""
    lines = [HEAD]
    for title, form, rows in (
        ("Joint file", "evenpull joint 1", schema_help()),
        ("Tool file", "evenpull tools 1", tools_help()),
        ("Mapping file", "evenpull mapping 1", mapping_help()),
        ("Curve mapping", "evenpull curve mapping 1", curve_mapping_help()),
        ("Register of equipment", "evenpull equipment 1", keeper_help("equipment")),
        ("Certificates", "evenpull certificates 1", keeper_help("certificates")),
        ("Certificate mapping", "evenpull certificate mapping 1", keeper_help("certificate-mapping")),
        ("Calculation file", "evenpull calculation 1", calculation_help()),
        ("Ring file", "evenpull ring 1", ring_help()),
        ("Study file", "evenpull study 1", study_help()),
    ):
        lines += [f"## {title}", "", f'First line: `form = "{form}"`', ""]
        lines += table(
            (
                f"`{row.field}`",
                row.meaning,
                row.allowed,
                "yes" if row.required else (f"no, else `{row.default}`" if row.default else "no"),
                f"`{row.example}`" if row.example else "",
            )
            for row in rows
        )
        lines.append("")
    return "\n".join(lines)


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
