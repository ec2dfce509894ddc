"""The whole demo in a folder of its own finds exactly the slips that are built in; a second run changes nothing."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from rich.console import Console

from evenpull.demo import scenario
from evenpull.demo.decisions import SIGNATURES
from evenpull.demo.generate import scenario_plans, write_records
from evenpull.demo.story import record_files
from evenpull.demo.teller import Teller
from evenpull.demo.truth import as_markdown, read_truth
from evenpull.evidence import verify
from tests import databases

TRUTH = read_truth()
DOCS = Path(__file__).parents[2] / "docs"


def tell() -> tuple[Teller, io.StringIO]:
    out = io.StringIO()
    return Teller(9, Console(file=out, width=80, highlight=False)), out


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory, django_db_blocker: object) -> Iterator[tuple[Path, str]]:
    """Folder and printed story of one run of the whole demo."""
    from django.conf import settings
    from django.test import override_settings

    from evenpull.demo.run import run
    from evenpull.store import services

    home = tmp_path_factory.mktemp("demo") / "kestrel-narrows"
    home.mkdir()
    assert settings.configured
    with (
        override_settings(EVENPULL_HOME=home),
        django_db_blocker.unblock(),  # type: ignore[attr-defined]
        databases.database(databases.sqlite(home / "records.sqlite3")),
    ):
        services.prepare()
        teller, out = tell()
        run(teller)
        yield home, out.getvalue()


@pytest.mark.parametrize("joint", [name.upper() for name in scenario.JOINTS])
def test_every_flag_of_a_joint_is_a_slip_that_was_built_in(told: tuple[Path, str], joint: str) -> None:
    from evenpull.store import services

    found = Counter((f.code, f.fastener, f.pass_number, f.blocking) for f in services.joint(joint).proof.flags)
    wanted = TRUTH.flags_of(joint)
    assert found == wanted, {"not found": wanted - found, "not built in": found - wanted}


@pytest.mark.parametrize("outcome", TRUTH.outcomes, ids=lambda o: o.joint)
def test_every_joint_ends_as_the_list_says(told: tuple[Path, str], outcome: object) -> None:
    from evenpull.demo.truth import Outcome
    from evenpull.store import services

    assert isinstance(outcome, Outcome)
    view = services.joint(outcome.joint)
    proof = view.proof
    assert (view.decision.state, proof.records, proof.unread, proof.repeated) == (
        outcome.state, outcome.records, outcome.unread, outcome.repeated,
    )  # fmt: skip


def test_all_three_states_occur_and_each_joint_is_listed_once() -> None:
    assert {o.state for o in TRUTH.outcomes} == {"released", "released with follow-up", "not released"}
    assert sorted(o.joint for o in TRUTH.outcomes) == sorted(name.upper() for name in scenario.JOINTS)


def test_what_is_no_flag_is_found_as_well(told: tuple[Path, str]) -> None:
    from evenpull.store import services

    (stray,) = services.unplaced()
    assert (stray.joint, stray.fastener, stray.near[0]) == ("KN-CW-041", 13, "KN-CW-014")
    view = services.joint("KN-CW-014")
    (lost,) = view.unread
    assert (lost.row, lost.code) == (61, "torque-not-a-number")
    assert any("31.02.2026" in t.time_text and t.time is None for t in view.tightenings)
    doubtful = [t for t in services.joint("KN-TB-001").tightenings if t.time_doubt]
    assert {t.fastener for t in doubtful} == {4, 22}
    assert all(t.time is None and "did not exist in Europe/London" in t.time_doubt for t in doubtful)


def test_no_card_and_no_signature_where_something_stands_against_it(told: tuple[Path, str]) -> None:
    from evenpull.store import services

    home, _ = told
    assert not services.joint("KN-CW-009").cards
    cards = {path.name for path in (home / "cards").iterdir()}
    others = [name.upper() for name in scenario.JOINTS if name != "kn-cw-009"]
    assert cards == {f"{joint}-{paper}.pdf" for joint in others for paper in ("a4", "us-letter")}
    signed = {name for name in map(str.upper, scenario.JOINTS) if services.joint(name).releases}
    assert signed == {joint for joint, _, _ in SIGNATURES} - {"KN-CW-014"}


def test_reports_and_bundles_are_there_and_verify(told: tuple[Path, str]) -> None:
    home, _ = told
    for name in scenario.JOINTS:
        assert (home / "reports" / f"{name.upper()}.pdf").read_bytes().startswith(b"%PDF")
    bundles = list((home / "bundles").iterdir())
    assert len(bundles) == 2
    assert all(verify(path).ok for path in bundles)


def test_every_real_run_is_compared_with_the_station(told: tuple[Path, str]) -> None:
    # 1,500 runs, 253 not accepted by the station: documentation of the data set (doi 10.5281/zenodo.14729547)
    home, _ = told
    text = (home / "reports" / "thread-forming-comparison.csv").read_text(encoding="utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len(rows) == 1500
    assert Counter(row["station"] for row in rows) == {"OK": 1247, "NOT_OK": 253}
    for row in rows:
        inside = 1.2 <= float(row["torque N.m"]) <= 1.6
        assert (row["by torque alone"] == "accepted") is inside, row
        same = (row["by torque alone"] == "accepted") is (row["station"] == "OK")
        assert (row["same by torque"] == "yes") is same, row
        assert row["reason"] and row["in words"]
    differ = [row for row in rows if row["same by torque"] == "no" or row["same with end"] == "no"]
    assert all(row["reason"] not in ("same verdict", "no reason in the record") for row in differ)


def test_the_story_fits_a_plain_log(told: tuple[Path, str]) -> None:
    _, text = told
    assert "\x1b" not in text
    # paths and keys may be long; everything else fits
    long = [line for line in text.splitlines() if len(line) > 80 and "/" not in line]
    assert not long
    for words in ("1 of 9", "9 of 9", "STOP KN-CW-009", "changes nothing", "1,500 tightenings", "nothing was changed"):
        assert words in " ".join(text.split())


def test_progress_is_counted_on_a_terminal_as_well() -> None:
    out = io.StringIO()
    teller = Teller(9, Console(file=out, width=80, force_terminal=True, highlight=False))
    assert list(teller.each(range(3), "things", 3)) == [0, 1, 2]
    assert "3/3" in out.getvalue()


def test_a_second_run_in_the_same_folder_writes_nothing(told: tuple[Path, str]) -> None:
    from evenpull.demo.run import run
    from evenpull.store import services

    before = services.log_status()
    teller, out = tell()
    run(teller)
    after = services.log_status()
    assert (before.size, before.root) == (after.size, after.root)
    assert "signed before by" in out.getvalue()


def test_records_are_the_same_bytes_each_time(tmp_path: Path) -> None:
    first, second = record_files(scenario_plans()), record_files(scenario_plans())
    assert [(f.name, f.data) for f in first] == [(f.name, f.data) for f in second]
    assert [(tmp_path / f.name).read_bytes() for f in write_records(tmp_path)] == [f.data for f in first]


def test_the_page_of_slips_is_made_from_the_list() -> None:
    assert (DOCS / "demo-truth.md").read_text(encoding="utf-8") == as_markdown(TRUTH)
