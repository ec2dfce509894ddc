"""Entries on a lot of parts or lubricant: where it comes from, whether it may be fitted."""

from __future__ import annotations

from evenpull.ledger.kinds.form import Field, Kind, text

LOTS = (
    Kind("lot received", "lot", "Lot received", "What it is and by which papers it came.",
         (text("what", "What it is"), text("heat", "Heat", False), text("maker", "Maker", False),
          text("document", "Document of the delivery"), text("marking", "Marking seen", False),
          Field("expires", "Not to be used after", "date", False)), act="tools"),
    Kind("lot blocked", "lot", "Lot blocked", "Not to be fitted; fitted ones are to be looked at.", (), reason=True,
         act="tools"),
    Kind("lot unblocked", "lot", "Lot unblocked", "May be fitted again.", (text("evidence", "Evidence"),), reason=True,
         act="tools"),
)  # fmt: skip
