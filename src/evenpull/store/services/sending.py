"""Files that a program sends, not a person."""

from __future__ import annotations

from hashlib import sha256

from evenpull.store.services import received, taking
from evenpull.store.services.errors import Refused
from evenpull.store.services.log import writing
from evenpull.store.services.rows import Imported


def commit_sent(name: str, data: bytes, mapping_name: str, client: str) -> Imported:
    """`taking.commit_file` for a program. Refused when a person withdrew the reading of this very file: that it counts
    again is for a person to say."""
    with writing():
        last = received.readings_of(sha256(data).hexdigest())[-1:]
        for said in (one.withdrawn for one in last if one.withdrawn is not None):
            raise Refused(
                f"{name}: {said.by} withdrew the reading of this file on {said.at:%Y-%m-%d %H:%M} UTC: {said.why}. "
                "A person takes it in again, on the pages or by the command import. Nothing was written."
            )
        return taking.commit_file(name, data, mapping_name, client)
