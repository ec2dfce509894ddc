"""Records typed in by a person: checked, kept as a file of our own, read by the same reader as every other file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime

from evenpull.intake import read_mapping
from evenpull.intake.keyed import KEYED_MAPPING, keyed_file
from evenpull.store.services import register, taking
from evenpull.store.services.log import checked_author
from evenpull.store.services.rows import Imported


def key_in(rows: Sequence[Mapping[str, str]], author: str) -> Imported:
    """Take typed rows in (fields of `intake.keyed.KEYED_FIELDS`); "keyed by" is the author. KeyedError with every
    fault, and nothing written; the same rows again change nothing."""
    who = checked_author(author)
    given = [dict(row) | {"keyed by": who} for row in rows]
    data = keyed_file(given, now=datetime.now(UTC))
    register.add_mapping(KEYED_MAPPING, "typed-records.toml", who)  # writes nothing when it is there
    name = read_mapping(KEYED_MAPPING, "typed-records.toml").name
    return taking.commit_file(f"typed in by {who}.csv", data, name, who)
