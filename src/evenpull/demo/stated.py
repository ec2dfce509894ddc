"""What people of Kestrel Narrows stated beside the records, and the questions that an auditor asks afterwards."""

from __future__ import annotations

from evenpull.card import joint_check_character
from evenpull.demo.teller import Teller
from evenpull.ledger.words import render
from evenpull.store import services
from evenpull.store.services import audit

LEAD, KEEPER = "T. Abernethy-Voss", "V. Sunde-Farrow"
MAST = "KN-SS-012"


def entries(tell: Teller) -> None:
    """Identity, state as found, a hand-over, a qualification, a clock read beside a trusted one."""
    tell.chapter("What people state beside the records")
    check = joint_check_character(MAST)
    written = [
        services.add_entry(
            "identity confirmed", MAST,
            {"tag": MAST, "check": check, "second_source": "drawing", "second_text": f"mast sheet 2, {MAST}"}, LEAD,
            once="demo-identity",
        ),
        services.add_entry(
            "as found", MAST, {"leaking": "no", "marks": "none", "words": "old sealing compound on two bolts"}, LEAD,
            once="demo-as-found",
        ),
        services.add_entry(
            "hand-over", "KN-CW-014", {"from": "R. Fjeldgaard", "to": "S. Tamblyn", "pass": "3", "last": "10"}, LEAD,
            once="demo-hand-over",
        ),
        services.add_entry(
            "qualification", "R. Fjeldgaard",
            {"qualification": "flange assembly", "issued_by": "Kestrel Narrows school", "from": "2025-05-05",
             "until": "2028-05-04"}, LEAD, once="demo-qualification",
        ),
    ]  # fmt: skip
    for entry in written:
        where = "" if entry.subject == "person" else f"{entry.name}: "
        tell.point(f"{where}{render(entry)}")
    tell.say("Each is a fact of its own; a loosening, a removal or a disturbance would stay an open item of its "
             "fastener until parts, tightening, locking and check are proven after it.")  # fmt: skip


def questions(tell: Teller) -> None:
    """Answers from the index."""
    tell.chapter("What an auditor asks")
    tool = audit.tool("TW-0219")
    for row in tool.counters:
        missing = ", ".join(str(a) if a == b else f"{a} to {b}" for a, b in row.missing) or "none"
        tell.point(f"tool TW-0219: counters {row.first} to {row.last}, {row.records} records, missing: {missing}")
    person = audit.person("R. Fjeldgaard")
    joints = ", ".join(f"{j.joint} ({j.pulls})" for j in person.joints)
    tell.point(f"R. Fjeldgaard: {person.pulls.total} tightenings on {joints}")
    lot = audit.lot("KL-7731")
    tell.point(f"lot KL-7731: {', '.join(sorted({row.joint for row in lot.fasteners}))}")
    handed = audit.listed("entry", "hand-over")
    tell.point(f"hand-overs in the middle of work: {len(handed.rows)}, each with what was proven at that moment")
    reviews = audit.listed("decision", "engineering review")
    tell.point(f"decided by engineering review: {len(reviews.rows)}")
    tell.say("The same on the pages under Audit, and with: evenpull audit tool TW-0219, audit lot, audit person ...")
