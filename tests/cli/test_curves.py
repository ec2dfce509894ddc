"""The commands for curves, one after the other, as a person types them."""

from __future__ import annotations

import csv
import json
from pathlib import Path

from evenpull.store import services
from evenpull.store.services import curves_judging, curves_rejudging
from tests.cli.calling import call
from tests.store.curve_files import MAPPING_TEXT, NAME, STEEL_JOINT, csv_of, simulated
from tests.store.samples import AUTHOR, MAPPING, furnish
from tests.store.test_curves import records


def test_from_the_file_to_what_changed(dossier: Path, tmp_path: Path, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    furnish("kn-gb-006")
    services.commit_file("r.csv", records(range(1, 4)), MAPPING, AUTHOR)
    mapping, traces = tmp_path / "m.toml", tmp_path / "traces.csv"
    mapping.write_text(MAPPING_TEXT)
    traces.write_bytes(csv_of(simulated(["none", "none", "slip"], coarse=1), [1, 2, 3]))
    assert "record.run_form" in call("curves", "mapping", "--keys").output
    assert "written" in call("curves", "mapping", mapping, "--by", AUTHOR).output
    assert NAME in call("curves", "mapping").output
    take = ("curves", "take", traces, "--joint", STEEL_JOINT, "-m", NAME, "--by", AUTHOR)
    said = call(*take).output
    assert "3 curves" in said and "of 3 the record was here" in said and "slip or stripping" in said
    assert "does not say what the clamp load is" in said
    assert "nothing was written" in call(*take).output
    shown = call("curves", "show", STEEL_JOINT).output
    for words in ("3 with their record", "Do not tighten on", "not applied: the turn to the seat"):
        assert words in shown
    assert "slip or stripping" in call("matrix", STEEL_JOINT).output
    (row,) = json.loads(call("curves", "list", "--json").output)
    assert row["curves"] == 3 and row["joint"] == STEEL_JOINT
    assert "findings:" in call("curves", "judge").output
    refused = call("curves", "learn", "w", "--joint", STEEL_JOINT, "--why", "to try it", "--by", AUTHOR, code=2).output
    assert "at least 25" in refused
    assert "0 changed" in call("curves", "rejudge", "--by", AUTHOR).output
    for module in (curves_judging, curves_rejudging):
        monkeypatch.setattr(module, "RULES_VERSION", "curve-test")
    monkeypatch.setattr(curves_judging, "THRESHOLDS_TEXT",
                        curves_judging.THRESHOLDS_TEXT.replace("fallen = 0.85", "fallen = 1.01"))
    out = tmp_path / "changed.csv"
    said = call("curves", "rejudge", "--by", AUTHOR, "--csv", out, "--parquet", tmp_path / "changed.parquet").output
    assert "threshold slip.fallen: 0.85 -> 1.01" in said and "none -> slip or stripping" in said
    with out.open(newline="") as lines:
        assert {line["cause"] for line in csv.DictReader(lines)} == {"threshold slip.fallen"}
    assert "is there already" in call("curves", "rejudge", "--by", AUTHOR, "--csv", out, code=2).output
    assert "2 changed" in call("curves", "changes").output
    assert "withdrawn" in call("curves", "withdraw", str(row["seq"]), "--why", "of the bench", "--by", AUTHOR).output


def test_what_is_wrong_is_said_with_file_and_line(dossier: Path, tmp_path: Path) -> None:
    furnish("kn-gb-006")
    bad = tmp_path / "bad.csv"
    bad.write_bytes(csv_of(simulated(["none"]), [1]).replace(b";1;1\n", b";1\n", 1))
    mapping = tmp_path / "m.toml"
    mapping.write_text(MAPPING_TEXT)
    call("curves", "mapping", mapping, "--by", AUTHOR)
    take = ("curves", "take", bad, "--joint", STEEL_JOINT, "--by", AUTHOR)
    said = call(*take, "-m", NAME, code=2).output
    assert "bad.csv, line 2: 6 cells, the heading has 7" in said and "Nothing was written" in said
    assert "Parquet" in call(*take, code=2).output
    assert "no such file" in call("curves", "take", tmp_path / "x.csv", "--joint", STEEL_JOINT, "--by", AUTHOR,
                                  code=2).output
    assert "both tolerances" in call(*take, "-m", NAME, "--thin-torque", "0.1", code=2).output
    mapping.write_text(MAPPING_TEXT.replace('kind = "long"', 'kind = "long"\nkinds = 3'))
    assert "m.toml" in call("curves", "mapping", mapping, "--by", AUTHOR, code=2).output
