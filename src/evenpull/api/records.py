"""Records sent by a gateway become a file like any other: kept byte for byte, read by a mapping, written once."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from datetime import UTC

from evenpull.api.shapes import RecordIn
from evenpull.intake.mapping import OWN_WORDS
from evenpull.store import services
from evenpull.store.services.errors import Refused

COLUMNS = ("joint", "unit", "fastener", "pass", "event", "torque", "torque_unit", "angle", "direction", "end_cause",
           "result", "tool", "epoch", "counter", "operator", "time")  # fmt: skip
NAME = "records sent by a gateway"
MAPPING = f"""form = "evenpull mapping 1"
name = "{NAME}"
[file]
kind = "csv"
encoding = "utf-8"
delimiter = ","
header_rows = [1]
[time]
column = "time"
format = "%Y-%m-%dT%H:%M:%S.%f%z"
[columns]
joint = "joint"
unit = "unit"
fastener = "fastener"
pass = "pass"
event = "event"
direction = "direction"
end_cause = "end_cause"
result = "result"
tool = "tool"
epoch = "epoch"
counter = "counter"
operator = "operator"
[torque]
column = "torque"
unit_column = "torque_unit"
[angle]
column = "angle"
unit = "deg"
"""


def file_of(records: Sequence[RecordIn]) -> bytes:
    """The records as one CSV file. Refused with the record and the words that are known when a word is not."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for number, one in enumerate(records, start=1):
        for field in ("event", "direction", "end_cause", "result"):
            word = getattr(one, field)
            if word and word not in OWN_WORDS[field]:
                known = ", ".join(OWN_WORDS[field])
                raise Refused(f"record {number}: {field}: {word!r} is none of: {known}. Nothing was written.")
        if one.time.tzinfo is None:
            raise Refused(f"record {number}: time: {one.time.isoformat()} has no offset from UTC. Nothing was written.")
        when = one.time.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%f+0000")
        writer.writerow(
            ["" if value is None else value for value in (
                one.joint, one.unit, one.fastener, one.pass_number, one.event, one.torque, one.torque_unit, one.angle,
                one.direction, one.end_cause, one.result, one.tool, one.epoch, one.counter, one.operator, when,
            )]
        )  # fmt: skip
    return out.getvalue().encode()


def take_in(records: Sequence[RecordIn], client: str) -> services.Imported:
    """Take the records in as a file of their own, under the name of the client."""
    data = file_of(records)
    services.add_mapping(MAPPING, "gateway.toml", client)  # writes nothing when it is there
    return services.commit_file(f"gateway {client}.csv"[:200], data, NAME, client, by_person=False)
