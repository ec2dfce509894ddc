"""A file of a layout nobody has seen: suggested, asked, previewed, confirmed; several sources fill one joint."""

from __future__ import annotations

from pathlib import Path

import pytest

from evenpull.intake.record import IntakeError
from tests.store.samples import AUTHOR, furnish

ZONE = {"time.zone": "Europe/London"}
HEAD = "Joint;Bolt no.;Pass;Torque (Nm);Angle (deg);Wrench serial;Reading no.;Date;Time;Fitter"


def listed(*rows: str, head: str = HEAD) -> bytes:
    return ("\r\n".join([head, *rows]) + "\r\n").encode("cp1252")


def line(counter: int, bolt: int = 1, torque: str = "", joint: str = "KN-CW-008", day: str = "24.03.2026") -> str:
    torque = torque or f"{148 + counter % 17 * 0.3:.1f}".replace(".", ",")
    return f"{joint};{bolt};3;{torque};12,5;BS-118;{counter};{day};15:{counter % 60:02}:07;H. Vänskä"


ROWS = tuple(line(100 + n, 1 + n % 8) for n in range(12))


def size() -> tuple[int, str]:
    from evenpull.store import services

    status = services.log_status()
    return status.size, status.root


def test_what_the_file_does_not_settle_is_asked_then_both_are_written_or_neither(anywhere: Path) -> None:
    from evenpull.store import services

    furnish()
    before = size()
    open_one = services.suggest_mapping("list.csv", listed(*ROWS))
    assert [q.key for q in open_one.questions] == ["time.zone"] and "OPEN time.zone" in open_one.text
    settled = services.suggest_mapping("list.csv", listed(*ROWS), ZONE, "Brae Skerry list")
    assert not settled.questions and 'name = "Brae Skerry list"' in settled.text
    seen = services.preview_suggested("list.csv", listed(*ROWS), settled.text)
    assert (seen.new, seen.repeated, seen.conflicts, seen.known) == (12, 0, (), ("KN-CW-008",))
    assert seen.reading.tightenings[0].torque == 152.5 and size() == before  # nothing has been written yet
    done = services.commit_suggested("list.csv", listed(*ROWS), settled.text, AUTHOR)
    assert (done.new, done.already) == (12, False)
    assert [row.name for row in services.mappings() if row.name == "Brae Skerry list"]
    assert services.check_log() == []
    after = size()
    again = services.commit_suggested("list.csv", listed(*ROWS), settled.text, AUTHOR)
    assert again.already and size() == after


def test_a_conflict_leaves_neither_mapping_nor_records(anywhere: Path) -> None:
    from evenpull.store import services

    furnish()
    first = services.suggest_mapping("a.csv", listed(*ROWS), ZONE, "first")
    services.commit_suggested("a.csv", listed(*ROWS), first.text, AUTHOR)
    other = listed(*ROWS[:-1], line(111, 4, "99,9"))
    second = services.suggest_mapping("b.csv", other, ZONE, "second")
    assert services.preview_suggested("b.csv", other, second.text).conflicts
    before = size()
    with pytest.raises(services.Refused, match="counter 111"):
        services.commit_suggested("b.csv", other, second.text, AUTHOR)
    assert size() == before and "second" not in [row.name for row in services.mappings()]


def test_a_name_that_others_read_with_does_not_change_its_meaning(anywhere: Path) -> None:
    from evenpull.store import services

    furnish()
    name = services.mappings()[0].name
    text = services.suggest_mapping("a.csv", listed(*ROWS), ZONE, name).text
    before = size()
    with pytest.raises(services.Refused, match="give this one another name"):
        services.commit_suggested("a.csv", listed(*ROWS), text, AUTHOR)
    assert size() == before


def test_a_text_that_a_person_spoiled_is_refused_with_its_line(anywhere: Path) -> None:
    from evenpull.store import services

    furnish()
    text = services.suggest_mapping("a.csv", listed(*ROWS), ZONE).text
    before = size()
    broken = text.replace('zone = "Europe/London"', 'zone = "Mars/Phobos"')
    assert broken != text
    with pytest.raises(IntakeError) as caught:
        services.commit_suggested("a.csv", listed(*ROWS), broken, AUTHOR)
    assert caught.value.line == next(n for n, row in enumerate(broken.splitlines(), 1) if "Mars" in row)
    with pytest.raises(IntakeError):
        services.preview_suggested("a.csv", listed(*ROWS), "")
    assert size() == before


def test_known_mappings_that_read_the_file_are_named_the_best_first(anywhere: Path) -> None:
    from evenpull.demo.generate import scenario_plans
    from evenpull.demo.story import record_files
    from evenpull.store import services

    furnish()
    files = {one.name: one for one in record_files(scenario_plans())}
    log = files["tool-store-2026-03-18.csv"]
    (fit,) = services.fitting_mappings(log.name, log.data)
    assert (fit.mapping, fit.records, fit.unread) == (log.mapping, 79, 1)
    assert services.fitting_mappings("list.csv", listed(*ROWS)) == ()


def test_the_known_mappings_are_looked_up_once_however_many_there_are(anywhere: Path) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    from evenpull.demo import scenario
    from evenpull.store import services

    furnish()
    for name in scenario.MAPPINGS:
        services.add_mapping(scenario.mapping_text(name), f"{name}.toml", AUTHOR)
    assert len(services.mappings()) > 1
    asked = [lambda: services.suggest_mapping("list.csv", listed(*ROWS)),
             lambda: services.fitting_mappings("list.csv", listed(*ROWS))]  # fmt: skip
    for ask in asked:
        with CaptureQueriesContext(connection) as caught:
            ask()
        assert sum("'mapping'" in one["sql"] for one in caught.captured_queries) == 1


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("empty.csv", b"", "empty"),
        ("scan.csv", b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj\n", "PDF"),
        ("only-heading.csv", (HEAD + "\r\n").encode(), "no record under it"),
        ("x" * 300 + ".csv", listed(*ROWS), "Give it a shorter one"),
    ],
)
def test_what_is_no_list_is_refused_in_words(anywhere: Path, name: str, data: bytes, said: str) -> None:
    from evenpull.store import services

    furnish()
    before = size()
    with pytest.raises((IntakeError, services.Refused), match=said):
        services.suggest_mapping(name, data)
    assert size() == before


def test_a_joint_for_all_rows_is_a_text_of_ones_own_and_what_reads_nothing_is_not_kept(anywhere: Path) -> None:
    from evenpull.intake.suggest import CONSTANT
    from evenpull.store import services

    furnish()
    head = HEAD.split(";", 1)[1]
    data = listed(*(row.split(";", 1)[1] for row in ROWS), head=head)
    (asked,) = (q for q in services.suggest_mapping("list.csv", data, ZONE).questions if q.key == "columns.joint")
    assert asked.free and asked.before == CONSTANT
    settled = services.suggest_mapping("list.csv", data, ZONE | {"columns.joint": asked.before + "KN-CW-008"})
    assert not settled.questions and not settled.not_taken
    assert services.preview_suggested("list.csv", data, settled.text).known == ("KN-CW-008",)
    before = size()
    spoiled = settled.text.replace('decimal = ","', 'decimal = "."')
    assert spoiled != settled.text
    with pytest.raises(services.Refused, match="not one row becomes a record"):
        services.commit_suggested("list.csv", data, spoiled, AUTHOR)
    assert size() == before


def test_day_and_month_that_no_row_settles_are_asked(anywhere: Path) -> None:
    from evenpull.store import services

    furnish()
    data = listed(*(line(100 + n, day="03/04/2026") for n in range(9)))
    keys = {q.key for q in services.suggest_mapping("list.csv", data, ZONE).questions}
    assert "time.format" in keys


def test_one_joint_filled_by_memory_a_second_tool_a_card_and_a_contractors_list(anywhere: Path) -> None:
    """The cover of the demo: four sources, read weeks later, end in one proof with nothing owed."""
    from evenpull.demo import opened, scenario, story
    from evenpull.demo.generate import scenario_plans
    from evenpull.store import services
    from evenpull.store.services.keying import key_in

    services.add_tools(scenario.tools_text(), "tools.toml", AUTHOR)
    services.add_joint(scenario.joint_text("kn-cw-026"), "kn-cw-026.toml", AUTHOR)
    services.add_mapping(scenario.mapping_text("semicolon-log"), "semicolon-log.toml", AUTHOR)
    plans = scenario_plans()
    memory = next(one for one in story.record_files(plans) if one.name == "tool-store-2026-04-08.csv")
    sheet, data = story.contractor_file(plans)
    settled = services.suggest_mapping(sheet, data, ZONE)
    assert {c.field: c.sureness for c in settled.columns}["columns.joint"] == "sure"
    services.commit_suggested(sheet, data, settled.text, AUTHOR)  # the last pass comes first
    rows = opened.typed(plans[opened.COVER], "KN-CW-026-YEA7-83")
    assert key_in(rows, AUTHOR).new == 16 and key_in(rows, AUTHOR).new == 0
    services.commit_file(memory.name, memory.data, memory.mapping, AUTHOR)
    view = services.joint(opened.COVER)
    assert view.proof.records == 43 and len({t.file_sha256 for t in view.tightenings}) == 3
    assert {t.tool for t in view.tightenings} == {"TW-0207", "TW-0219", "TW-0252", "BS-118"}
    assert {cell.verdict for cell in view.proof.cells} == {"accepted"}
    assert all(state.owed for state in view.proof.states)  # nothing of the crew's paper has been entered
    for one in (*opened.before_work(), *opened.after_work()):
        services.add_entry(one.kind, one.name, one.values, one.by, fasteners=one.fasteners, at=one.at,
                           basis=opened.BASIS, reason=opened.REASON)  # fmt: skip
    view = services.joint(opened.COVER)
    assert not any(state.owed for state in view.proof.states)
    assert [r for r in view.decision.reasons if "no qualification" in r] and not view.decision.signable
    services.add_entry("qualification", opened.HOME, {
        "qualification": "flange assembly", "issued_by": "School", "from": "2025-05-05", "until": "2028-05-04",
    }, opened.FOREMAN)  # fmt: skip
    assert services.joint(opened.COVER).decision.signable
    assert services.check_log() == []
