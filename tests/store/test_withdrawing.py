"""A reading withdrawn, through the services: its records stop counting everywhere, nothing else does, nothing is lost.

What counts afterwards is compared with a dossier made anew from only the readings that still stand.
"""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests import databases
from tests.store.postgres import Server
from tests.store.samples import AUTHOR, JOINT, MAPPING, file_of, furnish, many, row

LEAD = "Petra Achterberg-Lowe"
WHY = "the pass was taken from the column of the bolts"
OTHER = "store log, columns changed"


def other_mapping() -> None:
    """The same log under a mapping that takes the pass from the column of the bolts; from bolt 4 on no row is read."""
    from evenpull.demo import scenario
    from evenpull.store import services

    text = scenario.mapping_text("semicolon-log").replace(f'name = "{MAPPING}"', f'name = "{OTHER}"')
    changed = text.replace('pass = { column = "Round"', 'pass = { column = "Bolt"')
    assert changed != text and OTHER in changed
    services.add_mapping(changed, "columns-changed.toml", AUTHOR)


def sha(name: str) -> str:
    from evenpull.store import services

    return next(f.sha256 for f in services.files() if f.name == name)


def counters(joint: str = JOINT) -> list[int | None]:
    from evenpull.store import services

    return [t.counter for t in services.joint(joint).tightenings]


def sound() -> None:
    """The log holds, the index can be made again and is the same, and so are the findings."""
    from evenpull.store import services
    from evenpull.store.models import Mention, Pull
    from evenpull.store.services import findings

    assert services.check_log() == []
    services.refresh()
    assert findings.differing() == []

    def index() -> tuple[list[Any], list[Any]]:
        names = ("kind", "name", "fold", "unit", "fastener", "seq", "n")
        return (sorted(Mention.objects.values_list(*names), key=repr),
                sorted(Pull.objects.values_list(), key=repr))  # fmt: skip

    before = index()
    findings.rebuild()
    assert index() == before


def test_a_file_read_wrongly_is_withdrawn_and_read_again(anywhere: Path) -> None:
    from evenpull.store import services

    furnish()
    other_mapping()
    data = file_of([row(1, bolt=1), row(2, bolt=2), row(3, bolt=3, moment="see card")])
    services.commit_file("a.csv", data, OTHER, AUTHOR)
    assert [t.pass_number for t in services.joint(JOINT).tightenings] == [1, 2]
    with pytest.raises(services.Refused, match="a person withdraws that reading first"):
        services.commit_file("a.csv", data, MAPPING, AUTHOR)
    asked = services.plan_withdrawal(sha("a.csv"))
    assert (asked.records, asked.unread, asked.joints) == (2, 1, {JOINT: (2, 1)})
    found = services.withdraw_reading(sha("a.csv"), WHY, LEAD, reading=asked.reading)
    assert found.withdrawn is not None
    assert (found.withdrawn.by, found.withdrawn.why, found.withdrawn.records) == (LEAD, WHY, 2)
    view = services.joint(JOINT)
    assert view.tightenings == () and view.unread == () and view.proof.records == 0
    (note,) = [f for f in view.proof.flags if f.code == "reading withdrawn"]
    assert LEAD in note.text and WHY in note.text and not note.blocking
    assert not services.preview_file("a.csv", data, MAPPING).already
    done = services.commit_file("a.csv", data, MAPPING, AUTHOR)
    assert (done.new, done.repeated, done.unread, done.already) == (2, 0, 1, False)
    assert services.commit_file("a.csv", data, MAPPING, AUTHOR).already
    assert [t.pass_number for t in services.joint(JOINT).tightenings] == [1, 1]
    page = services.file(sha("a.csv"))
    assert page.withdrawn is None and [one.mapping for one in page.earlier] == [OTHER]
    assert page.earlier[0].withdrawn is not None and len(page.unread_rows) == 1
    sound()


def test_what_another_file_repeated_is_taken_from_there(anywhere: Path) -> None:
    from evenpull.store import services

    furnish("kn-cw-008", "kn-cw-014")
    services.commit_file("a.csv", many(20), MAPPING, AUTHOR)
    services.commit_file("b.csv", many(20, start=11), MAPPING, AUTHOR)
    services.commit_file("c.csv", many(10, start=6), MAPPING, AUTHOR)
    assert services.joint(JOINT).proof.repeated == 20
    found = services.withdraw_reading(sha("a.csv"), WHY, LEAD)
    assert found.withdrawn is not None and found.withdrawn.taken == 15  # 11 to 20 from b, 6 to 10 from c
    assert sorted(counters()) == list(range(6, 31))  # type: ignore[type-var]
    assert services.joint(JOINT).proof.repeated == 5
    assert {t.file_sha256 for t in services.joint(JOINT).tightenings} == {sha("b.csv"), sha("c.csv")}
    assert [(g.instead_of, g.rows) for g in services.file(sha("b.csv")).given] == [("a.csv", 10)]
    sound()
    services.commit_file("a.csv", many(20), MAPPING, AUTHOR)
    assert sorted(counters()) == list(range(1, 31))  # type: ignore[type-var]
    services.withdraw_reading(sha("b.csv"), WHY, LEAD)
    assert sorted(counters()) == list(range(1, 21))  # type: ignore[type-var]
    services.withdraw_reading(sha("c.csv"), WHY, LEAD)
    services.withdraw_reading(sha("a.csv"), WHY, LEAD)
    assert counters() == []
    sound()


def test_gaps_and_unread_counters_of_a_withdrawn_reading_open_again(anywhere: Path) -> None:
    from evenpull.store import services
    from evenpull.store.services import audit

    furnish("kn-cw-008", "kn-cw-014")
    services.commit_file("a.csv", file_of([row(3, bolt=1), row(7, bolt=2)]), MAPPING, AUTHOR)
    fill = file_of([row(4, joint="KN-CW-014"), row(5, joint="KN-CW-014"), row(6, joint="", bolt=3)])
    services.commit_file("b.csv", fill, MAPPING, AUTHOR)
    services.refresh()
    assert not [f for f in services.joint(JOINT).proof.flags if f.code == "records missing"]
    services.withdraw_reading(sha("b.csv"), WHY, LEAD)
    (flag,) = [f for f in services.joint(JOINT).proof.flags if f.code == "records missing"]
    assert flag.text.startswith("3 records missing")
    (memory,) = audit.tool("TW-0207").counters
    assert (memory.records, memory.missing) == (2, ((4, 6),))
    sound()  # the finding of the other joint, whose gap opened, was marked old


def test_a_conflict_is_looked_for_among_records_that_count(anywhere: Path) -> None:
    from evenpull.store import services

    furnish()
    services.commit_file("a.csv", file_of([row(1, moment="41,2")]), MAPPING, AUTHOR)
    with pytest.raises(services.Refused, match=r"41,2 N.m.*withdraw the reading of the other one"):
        services.commit_file("b.csv", file_of([row(1, moment="44,0")]), MAPPING, AUTHOR)
    services.withdraw_reading(sha("a.csv"), WHY, LEAD)
    services.commit_file("b.csv", file_of([row(1, moment="44,0")]), MAPPING, AUTHOR)
    with pytest.raises(services.Refused, match=r"44,0 N\.m"):
        services.commit_file("a.csv", file_of([row(1, moment="41,2")]), MAPPING, AUTHOR)
    assert [t.torque_text for t in services.joint(JOINT).tightenings] == ["44,0"]
    sound()


def test_records_of_no_known_joint_are_no_longer_counted_as_waiting_for_it(anywhere: Path) -> None:
    from evenpull.store import services

    furnish()
    strange = file_of([row(1, joint="KN-CW-041"), row(2, joint="KN-CW-041"), row(3)])
    services.commit_file("a.csv", strange, MAPPING, AUTHOR)
    services.commit_file("b.csv", file_of([row(9, joint="KN-CW-041")]), MAPPING, AUTHOR)
    assert services.unplaced_count() == 3
    services.withdraw_reading(sha("a.csv"), WHY, LEAD)
    assert services.unplaced_count() == 1 and [u.file for u in services.unplaced()] == ["b.csv"]
    sound()
    services.withdraw_reading(sha("b.csv"), WHY, LEAD)
    assert services.unplaced_count() == 0 and services.unplaced() == []
    services.commit_file("a.csv", strange, MAPPING, AUTHOR)
    assert services.unplaced_count() == 2 and len(services.unplaced()) == 2
    sound()


def test_what_speaks_against_a_withdrawal(anywhere: Path) -> None:
    from evenpull.store import services

    furnish()
    services.commit_file("a.csv", many(3), MAPPING, AUTHOR)
    size = services.log_status().size
    name = sha("a.csv")
    for why in ("", "wrong", "x" * 1001):
        with pytest.raises(services.Refused, match="10 to 1000 characters"):
            services.withdraw_reading(name, why, LEAD)
    with pytest.raises(services.Refused, match="cannot be shown"):
        services.withdraw_reading(name, f"{WHY}\0\u202e", LEAD)
    with pytest.raises(services.Refused, match="say who does this"):
        services.withdraw_reading(name, WHY, " ")
    with pytest.raises(services.Unknown, match="no file with SHA-256"):
        services.withdraw_reading("0" * 64, WHY, LEAD)
    with pytest.raises(services.Refused, match="was read again since you saw it"):
        services.withdraw_reading(name, WHY, LEAD, reading=0)
    assert services.log_status().size == size
    services.withdraw_reading(name, WHY, LEAD)
    with pytest.raises(services.Refused, match=f"withdrawn before, by {LEAD}"):
        services.withdraw_reading(name, WHY, LEAD)
    assert services.log_status().size == size + 1


def test_a_file_that_repeats_it_and_is_damaged_stops_the_withdrawal(anywhere: Path) -> None:
    """Otherwise the record that both files hold would be lost without a word."""
    from evenpull.store import services

    furnish()
    services.commit_file("a.csv", many(3), MAPPING, AUTHOR)
    services.commit_file("b.csv", many(3, start=2), MAPPING, AUTHOR)
    path = services.raw_path(sha("b.csv"))
    path.chmod(0o644)
    path.write_bytes(path.read_bytes() + b"x")
    size = services.log_status().size
    with pytest.raises(services.Refused, match="was changed on the disk"):
        services.withdraw_reading(sha("a.csv"), WHY, LEAD)
    assert services.log_status().size == size and sorted(counters()) == [1, 2, 3, 4]  # type: ignore[type-var]


FILES = {
    "a.csv": (1, 2, 3, 4), "b.csv": (3, 4, 5), "c.csv": (4, 5, 6, 7), "d.csv": (1, 7, 8),
}  # fmt: skip


def bytes_of(name: str) -> bytes:
    """One row of each file cannot be read, one names a joint that nobody knows."""
    rows = [row(n, bolt=n % 8 + 1) for n in FILES[name]]
    rows += [row(100 + ord(name[0]), moment="see card"), row(200, joint="KN-CW-041"), rows[0]]
    return file_of(rows)


def state() -> dict[str, Any]:
    """What counts, with nothing in it that tells when it was written or from which of several files it came."""
    from evenpull.store import services
    from evenpull.store.services import audit

    found: dict[str, Any] = {"unplaced": (services.unplaced_count(), len(services.unplaced()))}
    for joint in (JOINT, "KN-CW-014"):
        view = services.joint(joint)
        found[joint] = (
            sorted((t.source, t.torque_text, t.pass_number) for t in view.tightenings),
            sorted((u.raw, u.row) for u in view.unread),
            view.proof.repeated,
            sorted((f.code, f.fastener or 0, f.pass_number or 0) for f in view.proof.flags
                   if f.code != "reading withdrawn"),
            [(c.fastener, c.pass_number, c.verdict) for c in view.proof.cells],
            view.decision.state,
        )  # fmt: skip
    try:
        found["tool"] = [(c.epoch, c.records, c.missing) for c in audit.tool("TW-0207").counters]
    except services.Unknown:
        found["tool"] = []
    found["tool"] = [one for one in found["tool"] if one[1]]
    return found


@contextmanager
def fresh(kind: str, home: Path, settings: Any, request: pytest.FixtureRequest) -> Iterator[None]:
    from evenpull.store import services

    home.mkdir()
    before = settings.EVENPULL_HOME
    settings.EVENPULL_HOME = home
    if kind == "sqlite":
        entry = databases.sqlite(home / "records.sqlite3")
    else:
        running: Server = request.getfixturevalue("server")
        entry = databases.postgres(running.url(running.create()))
    with databases.database(entry):
        services.prepare()
        furnish("kn-cw-008", "kn-cw-014")
        other_mapping()
        yield
    settings.EVENPULL_HOME = before


@pytest.mark.parametrize("seed", range(6))
def test_any_sequence_counts_like_a_dossier_made_anew(
    anywhere: Path, settings: Any, request: pytest.FixtureRequest, tmp_path: Path, seed: int
) -> None:
    """Random sequences of taking in and withdrawing; those of one seed are the same in every run."""
    from django.db import connection

    from evenpull.store import services
    from evenpull.store.models import Fact

    dice, kind = random.Random(seed), connection.vendor
    furnish("kn-cw-008", "kn-cw-014")
    other_mapping()
    stand: dict[str, str] = {}
    for _ in range(14):
        name, mapping = dice.choice(sorted(FILES)), dice.choice([MAPPING, MAPPING, OTHER])
        facts = Fact.objects.count()
        if name in stand and dice.random() < 0.7:
            services.withdraw_reading(sha(name), WHY, LEAD)
            del stand[name]
        else:
            try:
                services.commit_file(name, bytes_of(name), mapping, AUTHOR)
                stand.setdefault(name, mapping)
            except services.Refused:
                assert stand.get(name, mapping) != mapping
        assert Fact.objects.count() >= facts
    sound()
    now = state()
    with fresh(kind, tmp_path / "anew", settings, request):
        for name in stand:  # in the order of the readings that stand
            services.commit_file(name, bytes_of(name), stand[name], AUTHOR)
        anew = state()
    assert json.dumps(now, default=str, indent=1) == json.dumps(anew, default=str, indent=1)



def test_judging_a_joint_looks_up_its_own_files_only(dossier: Path) -> None:
    """However many readings were withdrawn elsewhere: the same number of queries, and none of their facts is read."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    from evenpull.store import services

    furnish("kn-cw-008", "kn-cw-014")
    services.commit_file("a.csv", many(8), MAPPING, AUTHOR)

    def queries() -> list[str]:
        with CaptureQueriesContext(connection) as caught:
            services.joint(JOINT)
        return [one["sql"] for one in caught.captured_queries]

    queries()  # what is made once is made
    elsewhere = []
    for count in (1, 12):
        while len(elsewhere) < count:
            n = 1000 + 10 * len(elsewhere)
            services.commit_file(f"{n}.csv", many(2, start=n, joint="KN-CW-014", tool="TW-0241"), MAPPING, AUTHOR)
            elsewhere.append(sha(f"{n}.csv"))
            services.withdraw_reading(elsewhere[-1], WHY, LEAD)
        found = queries()
        if count == 1:
            first = len(found)
    assert len(found) == first
    assert not [sql for sql in found if any(one in sql for one in elsewhere)]


def test_an_audit_counts_pulls_by_the_readings_that_count(anywhere: Path) -> None:
    from datetime import UTC, datetime, timedelta

    from evenpull.store import services
    from evenpull.store.services import audit, audit_people, audit_tools

    furnish()
    at = datetime(2026, 3, 16, tzinfo=UTC)
    late: dict[str, Any] = {"at": at, "basis": "from paper", "reason": "taken over from the book of the store"}
    services.add_entry("tool issued", "TW-0207", {"to": "J. Mwangale", "counter": "0", "epoch": "A"}, AUTHOR, **late)
    services.add_entry("tool dropped", "TW-0207", {"what": "from the scaffold"}, AUTHOR, **late)
    late["at"] = at + timedelta(days=2)
    back = {"from": "J. Mwangale", "counter": "9", "epoch": "A"}
    services.add_entry("tool returned", "TW-0207", back, AUTHOR, **late)
    services.commit_file("a.csv", file_of([row(1), row(9)]), MAPPING, AUTHOR)
    services.commit_file("b.csv", file_of([row(4), row(5), row(6, moment="see card")]), MAPPING, AUTHOR)

    def counted() -> tuple[int, ...]:
        (memory,), view = audit_tools.memories().rows, audit.tool("TW-0207")
        (trip,), (barred,) = audit_tools.trips("TW-0207", view.entries), audit_people.barred()
        missing = sum(last - first + 1 for first, last in view.counters[0].missing)
        assert memory.missing == missing and memory.records == view.counters[0].records
        return memory.records, memory.unread, missing, trip.records or 0, barred.pulls

    assert counted() == (4, 1, 4, 4, 4)
    services.withdraw_reading(sha("b.csv"), WHY, LEAD)
    assert counted() == (2, 0, 7, 2, 2)
