"""Taking files in: the same content is never taken twice, a conflict stops everything, nothing is dropped."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from evenpull.demo import scenario
from evenpull.evidence import verify
from evenpull.intake import IntakeError
from evenpull.store import services
from evenpull.store.models import Checkpoint, Fact
from tests.store.samples import AUTHOR, JOINT, MAPPING, file_of, furnish, many, row


def written(home: Path) -> tuple[list[tuple[object, ...]], list[str]]:
    """All that is kept: every fact, and every raw file that is there."""
    files = sorted(str(p.relative_to(home)) for p in (home / "raw").rglob("*") if p.is_file())
    return list(Fact.objects.order_by("seq").values_list()), files


def test_a_preview_writes_nothing(anywhere: Path) -> None:
    furnish()
    before = written(anywhere)
    found = services.preview_file("a.csv", many(10), MAPPING)
    assert (found.new, found.repeated, found.conflicts, found.known, found.already) == (10, 0, (), (JOINT,), False)
    assert written(anywhere) == before


def test_the_identical_file_again_changes_nothing(anywhere: Path, tmp_path: Path) -> None:
    furnish()
    data = many(10)
    done = services.commit_file("a.csv", data, MAPPING, AUTHOR)
    assert (done.already, done.new, done.repeated, done.unread) == (False, 10, 0, 0)
    before = written(anywhere)
    path = tmp_path / "other name.csv"
    path.write_bytes(data)
    again = services.commit_file("other name.csv", path, MAPPING, "Someone Else")
    assert again.already and again.new == 0 and again.sha256 == done.sha256 == hashlib.sha256(data).hexdigest()
    assert services.preview_file("b.csv", data, MAPPING).already
    assert written(anywhere) == before
    assert services.raw_path(done.sha256).read_bytes() == data


def test_records_that_come_again_in_another_file_are_counted_and_named(anywhere: Path) -> None:
    furnish()
    services.commit_file("a.csv", many(10), MAPPING, AUTHOR)
    second = many(10, start=6)
    found = services.preview_file("b.csv", second, MAPPING)
    done = services.commit_file("b.csv", second, MAPPING, AUTHOR)
    assert (found.new, found.repeated) == (done.new, done.repeated) == (5, 5)
    view = services.joint(JOINT)
    assert sorted(t.counter or 0 for t in view.tightenings) == list(range(1, 16))
    assert view.proof.repeated == 5
    assert [f.name for f in view.files] == ["a.csv", "b.csv"]
    assert services.file(done.sha256).repeated == 5
    body = Fact.objects.get(key=f"file:{done.sha256}").data
    assert [r["row"] for r in body["repeated"]] == [2, 3, 4, 5, 6]


def test_a_file_of_nothing_but_repeats_still_belongs_to_its_joint(anywhere: Path) -> None:
    furnish()
    services.commit_file("a.csv", many(10), MAPPING, AUTHOR)
    done = services.commit_file("b.csv", many(4), MAPPING, AUTHOR)
    assert (done.new, done.repeated, done.already) == (0, 4, False)
    assert [f.name for f in services.joint(JOINT).files] == ["a.csv", "b.csv"]
    assert services.joint(JOINT).proof.repeated == 4


@pytest.mark.parametrize("tool", ["TW-0207", "TW/0207", "A/B/C", "50 % wrench_1"])
def test_a_conflict_stops_the_whole_file(anywhere: Path, tool: str) -> None:
    """The same tool and counter with another content: which one is true is for a person to find out."""
    furnish()
    services.commit_file("a.csv", file_of([row(1, tool=tool), row(2, tool=tool)]), MAPPING, AUTHOR)
    before = written(anywhere)[0]
    second = file_of([row(3, tool=tool), row(2, tool=tool, moment="55,0"), row(4, tool=tool)])
    found = services.preview_file("b.csv", second, MAPPING)
    assert len(found.conflicts) == 1
    text = found.conflicts[0]
    assert "row 3" in text and tool in text and "counter 2" in text
    assert "41,2" in text and "55,0" in text and "a.csv" in text  # both contents, and where the first came from
    with pytest.raises(services.Refused, match="nothing was written"):
        services.commit_file("b.csv", second, MAPPING, AUTHOR)
    assert written(anywhere)[0] == before
    assert services.check_log() == []


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("J. Mwangale", "H. Fenn", "operator: H. Fenn or J. Mwangale"),
        (";12,0;", ";21,0;", "angle: 21,0 or 12,0"),
        ("J. Mwangale", "J. Mwangale ", "the text of the row does not"),
        ("J. Mwangale", '"J. Mwangale"', "the text of the row does not"),
    ],
)
def test_a_conflict_says_what_differs(anywhere: Path, old: str, new: str, said: str) -> None:
    """Also where both rows agree in joint, fastener, pass, torque and time."""
    furnish()
    services.commit_file("a.csv", file_of([row(1)]), MAPPING, AUTHOR)
    (text,) = services.preview_file("b.csv", file_of([row(1).replace(old, new)]), MAPPING).conflicts
    assert said in text


def test_a_conflict_inside_one_file(anywhere: Path) -> None:
    furnish()
    data = file_of([row(1), row(2), row(2, moment="55,0")])
    assert len(services.preview_file("a.csv", data, MAPPING).conflicts) == 1
    with pytest.raises(services.Refused):
        services.commit_file("a.csv", data, MAPPING, AUTHOR)
    # The same row twice is no conflict: it is one reading written down twice.
    done = services.commit_file("a.csv", file_of([row(1), row(2), row(2)]), MAPPING, AUTHOR)
    assert (done.new, done.repeated) == (2, 1)


def test_other_tool_or_other_memory_is_no_conflict(anywhere: Path) -> None:
    furnish()
    services.commit_file("a.csv", file_of([row(1)]), MAPPING, AUTHOR)
    others: tuple[dict[str, str], ...] = ({"tool": "TW-0219"}, {"memory": "B"}, {"tool": "tw-0207"})
    other = [row(1, moment="40,0", **changed) for changed in others]
    assert services.commit_file("b.csv", file_of(other), MAPPING, AUTHOR).new == 3


def test_rows_of_an_unknown_joint_wait_for_it(anywhere: Path) -> None:
    furnish()
    done = services.commit_file("a.csv", file_of([row(1), row(2, joint="KN-CW-014", bolt=5)]), MAPPING, AUTHOR)
    assert done.new == 2
    (waiting,) = services.unplaced()
    assert (waiting.joint, waiting.fastener, waiting.row) == ("KN-CW-014", 5, 3)
    assert waiting.near == ("KN-CW-008",) and waiting.file == "a.csv"
    with pytest.raises(services.UnknownJoint, match="KN-CW-008"):
        services.joint("KN-CW-014")
    services.add_joint(scenario.joint_text("kn-cw-014"), "kn-cw-014.toml", AUTHOR)
    assert services.unplaced() == []
    assert [t.fastener for t in services.joint("KN-CW-014").tightenings] == [5]
    assert services.joint("KN-CW-014").proof.records == 1


def test_unread_rows_are_kept_with_their_reason(anywhere: Path) -> None:
    furnish()
    data = file_of([row(1), row(2, moment="see card"), row(3, day="31.02.2026"), ";;;"])
    done = services.commit_file("a.csv", data, MAPPING, AUTHOR)
    shown = services.file(done.sha256)
    assert done.new + done.unread + done.set_aside == 5
    assert len(shown.unread_rows) == done.unread and all(u.reason and u.raw for u in shown.unread_rows)
    rows = {u.row for u in shown.unread_rows} | {s.row for s in shown.set_aside_rows}
    rows |= {t.row for t in services.joint(JOINT).tightenings}
    assert rows == {1, 2, 3, 4, 5}


@pytest.mark.parametrize(
    "data", [b"", b"%PDF-1.7\n" * 20, b"a;b\r\n1;2\r\n", many(3).decode().encode("utf-16"), b"\xff\xfe\xfd" * 30]
)
def test_a_file_that_cannot_be_taken_in_leaves_nothing(anywhere: Path, data: bytes) -> None:
    furnish()
    before = written(anywhere)
    with pytest.raises(IntakeError):
        services.preview_file("bad.csv", data, MAPPING)
    with pytest.raises(IntakeError):
        services.commit_file("bad.csv", data, MAPPING, AUTHOR)
    assert written(anywhere) == before


def test_strange_texts_are_kept_to_the_letter(anywhere: Path) -> None:
    """Lengths and characters that one of the databases would not take as they are."""
    furnish()
    strange = [
        row(1, tool="T" * 600), row(2, joint="J" * 300), row(3, joint="KN\x00CW"), row(4, tool="T\x00"),
        row(5, tool="\U0001f529 wrench"), row(6, joint="ﬀ' OR 1=1 --"), row(7, tool="T" * 599 + "x"),
        row(1, tool="T" * 600),
    ]  # fmt: skip
    done = services.commit_file("a.csv", file_of(strange), MAPPING, AUTHOR)
    assert done.new + done.repeated + done.unread == 8
    assert services.check_log() == []
    assert services.commit_file("a.csv", file_of(strange), MAPPING, AUTHOR).already
    again = services.commit_file("b.csv", file_of([*strange, row(9)]), MAPPING, AUTHOR)
    assert again.new == 1 and again.repeated == done.new + done.repeated
    services.unplaced()
    services.files()


def test_an_author_is_a_person(anywhere: Path) -> None:
    furnish()
    for name in ("", " ", "x", "y" * 200):
        with pytest.raises(services.Refused):
            services.commit_file("a.csv", many(2), MAPPING, name)
    assert services.files() == []


def test_an_unknown_mapping_names_those_there_are(anywhere: Path) -> None:
    furnish()
    with pytest.raises(services.Unknown, match="store log, semicolons"):
        services.commit_file("a.csv", many(2), "store log", AUTHOR)


def test_the_log_holds_every_fact(anywhere: Path, tmp_path: Path) -> None:
    furnish("kn-cw-008", "kn-cw-014")
    services.commit_file("a.csv", many(20), MAPPING, AUTHOR)
    services.commit_file("b.csv", file_of([row(500, joint="KN-CW-014")]), MAPPING, AUTHOR)
    facts = list(Fact.objects.order_by("seq"))
    assert [f.seq for f in facts] == list(range(len(facts)))
    assert services.log_status().size == len(facts) == Checkpoint.objects.order_by("-size")[0].size
    whole = verify(services.export_bundle(None, tmp_path / "all.zip"), services.log_status().key_id)
    assert whole.ok and whole.facts == len(facts), whole.lines
    part = verify(services.export_bundle(JOINT, tmp_path / "one.zip"))
    assert part.ok and part.facts < len(facts), part.lines
    with pytest.raises(services.UnknownJoint):
        services.export_bundle("KN-XX-999", tmp_path / "none.zip")
    assert not (tmp_path / "none.zip").exists()

