"""The files to start from: they read as they are, and explain every key there is."""

from __future__ import annotations

import re

import pytest

from evenpull.cli.ask import KEEPER
from evenpull.equipment import Holdings, read_certificate_mapping, read_certificates, read_equipment
from evenpull.equipment.guide import SCHEMAS, keeper_help, keeper_template


def test_each_reads_as_it_is() -> None:
    found = read_equipment(keeper_template("equipment"), "e.toml", Holdings())
    assert len(found.items) == 10 and len(found.assemblies) == 2
    (one,) = read_certificates(keeper_template("certificates"), "c.toml")
    assert one.point_result(1) is not None and one.budget() is not None and one.limits
    assert read_certificate_mapping(keeper_template("certificate-mapping"), "m.toml").unit == "N.m"
    assert tuple(SCHEMAS) == KEEPER


@pytest.mark.parametrize("what", SCHEMAS)
def test_each_names_every_key(what: str) -> None:
    text = keeper_template(what)
    keys = set(re.findall(r"^(?:# )?([A-Za-z_]+) = ", text, re.MULTILINE))
    tables = set(re.findall(r"^(?:# )?\[+([A-Za-z_.]+)\]+", text, re.MULTILINE))
    for row in keeper_help(what):
        table, _, name = row.field.rpartition(".")
        if name in ("column", "equals"):  # stand inside one line
            assert f"{name} =" in text
            continue
        assert name in keys, row.field
        if table and not table.endswith((".limit", ".interval", "skip_where")):
            assert table in tables, row.field
