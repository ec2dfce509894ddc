"""Facts and checkpoints cannot be changed or taken away, by raw SQL neither, on both databases."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.db import DatabaseError, connection, transaction

from evenpull.store import services
from evenpull.store.models import Checkpoint, Fact, Finding
from tests.store.samples import AUTHOR, MAPPING, furnish, many

CHANGES = [
    "UPDATE fact SET body = '{}' WHERE seq = 1",
    "UPDATE fact SET author = 'nobody'",
    "UPDATE fact SET seq = seq + 1000",
    "DELETE FROM fact WHERE seq = 1",
    "DELETE FROM fact",
    "UPDATE checkpoint SET root = '' WHERE size > 0",
    "DELETE FROM checkpoint",
    # One statement that is an insert by name and a change by what it does.
    "INSERT INTO fact SELECT * FROM fact WHERE seq = 1 ON CONFLICT (seq) DO UPDATE SET body = '{}'",
    "INSERT INTO fact SELECT * FROM fact WHERE seq = 1",
]
ONLY_SQLITE = [
    "INSERT OR REPLACE INTO fact SELECT seq, kind, joint, key, author, received_at, written_at, '{}', digest FROM fact",
    "REPLACE INTO fact SELECT seq + 500, kind, joint, key, author, received_at, written_at, '{}', digest FROM fact",
    "REPLACE INTO checkpoint SELECT size, '', frontier, time, \"key\", signature FROM checkpoint",
    "UPDATE OR REPLACE fact SET seq = 2 WHERE seq = 1",
    "UPDATE OR IGNORE fact SET body = '{}'",
]
ONLY_POSTGRES = [
    "TRUNCATE fact",
    "TRUNCATE checkpoint CASCADE",
    "MERGE INTO fact USING (SELECT 1) one ON fact.seq = 1 WHEN MATCHED THEN DELETE",
    "WITH gone AS (DELETE FROM fact RETURNING *) SELECT count(*) FROM gone",
]


def everything() -> list[tuple[object, ...]]:
    return [*Fact.objects.order_by("seq").values_list(), *Checkpoint.objects.order_by("size").values_list()]


def test_raw_sql_cannot_change_facts(anywhere: Path) -> None:
    furnish()
    services.commit_file("a.csv", many(5), MAPPING, AUTHOR)
    before = everything()
    assert len(before) > 10
    for statement in CHANGES + (ONLY_SQLITE if connection.vendor == "sqlite" else ONLY_POSTGRES):
        with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)
        assert everything() == before, statement
    assert services.check_log() == []


def test_the_models_cannot_change_facts_either(anywhere: Path) -> None:
    furnish()
    before = everything()
    first = Fact.objects.get(seq=0)
    first.body = "{}"
    for change in (first.save, first.delete, Fact.objects.all().delete, lambda: Fact.objects.update(author="x")):
        with pytest.raises(DatabaseError), transaction.atomic():
            change()
    assert everything() == before


def test_triggers_hold_when_replication_would_switch_them_off(anywhere: Path) -> None:
    """PostgreSQL: a session that says it is a replica skips ordinary triggers."""
    if connection.vendor != "postgresql":
        pytest.skip("only PostgreSQL has replica sessions")
    furnish()
    before = everything()
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET LOCAL session_replication_role = replica")
        cursor.execute("DELETE FROM fact")
    assert everything() == before


def test_findings_may_be_thrown_away(anywhere: Path) -> None:
    furnish()
    services.commit_file("a.csv", many(5), MAPPING, AUTHOR)
    first = services.joints()
    assert Finding.objects.count() == len(first) == 1
    Finding.objects.all().delete()
    assert services.joints() == first


def test_whoever_takes_the_triggers_away_is_found_by_the_log(anywhere: Path) -> None:
    """No trigger stops the owner of the database; the signed log shows what was done all the same."""
    furnish()
    services.commit_file("a.csv", many(5), MAPPING, AUTHOR)
    assert services.check_log() == []
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
            for (name,) in cursor.fetchall():
                cursor.execute(f"DROP TRIGGER {name}")
        else:
            cursor.execute("ALTER TABLE fact DISABLE TRIGGER ALL")
            cursor.execute("ALTER TABLE checkpoint DISABLE TRIGGER ALL")
    size = Fact.objects.count()
    kept = Fact.objects.get(seq=size - 2)
    Fact.objects.filter(seq=kept.seq).update(body=kept.body.replace("41", "51"))
    assert any(f"fact {kept.seq} " in problem for problem in services.check_log())
    # Digest and checkpoint rewritten as well, but without the key.
    changed = Fact.objects.get(seq=kept.seq)
    Fact.objects.filter(seq=kept.seq).update(digest=changed.envelope().digest().hex())
    assert any("another root" in problem for problem in services.check_log())
    Fact.objects.filter(seq=kept.seq).update(body=kept.body, digest=kept.digest)
    assert services.check_log() == []
    Fact.objects.filter(seq=size - 1).delete()
    assert services.check_log() != []
