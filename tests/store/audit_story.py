"""A dossier in which everything an auditor asks for has happened at least once. Invented throughout."""

from __future__ import annotations

from contextlib import suppress
from datetime import UTC, datetime, timedelta
from typing import Any

from evenpull.demo import scenario
from evenpull.proof.rules import RULES
from evenpull.store import services
from evenpull.store.models import Fact
from evenpull.store.services import keying
from tests.store.samples import AUTHOR, JOINT, MAPPING, file_of, furnish, row

OTHER = "KN-CW-014"
TWIN = "KN-CW-010"
OPERATOR, CHECKER, KEEPER, ENGINEER = "J. Mwangale", "R. Okello", "Tove Lindqvist", "Petra Holm"


def told() -> str:
    """Write it; the serial of the card that came back."""
    furnish("kn-cw-008", "kn-cw-014")
    text = scenario.joint_text("kn-cw-008")
    services.add_joint(text.replace(f'id = "{JOINT}"', f'id = "{TWIN}"'), "twin.toml", AUTHOR)
    first = [row(n, bolt=n % 8 + 1) for n in range(1, 9)] + [row(12, bolt=1), row(13, moment="see card")]
    services.commit_file("week-12.csv", file_of(first), MAPPING, AUTHOR)
    services.commit_file("twin.csv", file_of([row(40, joint=TWIN), row(41, joint=TWIN, bolt=2)]), MAPPING, AUTHOR)
    revised = text.replace('revision = "', 'revision = "X')
    services.add_joint(revised.replace('torque = "150 N.m"', 'torque = "145 N.m"'), "revised.toml", ENGINEER)
    say, now = services.add_entry, datetime.now(UTC)
    say("as found", JOINT, {"leaking": "no", "marks": "broken", "loose": "3"}, AUTHOR)
    say("as found", JOINT, {"leaking": "yes", "marks": "none", "loose": "3"}, AUTHOR)
    say("as found", TWIN, {"leaking": "no", "marks": "broken", "loose": "2"}, AUTHOR)
    say("checked", JOINT, {"seen": "marks drawn on all, feeler gauge does not enter", "result": "in order"}, CHECKER)
    say("test", JOINT, {"test": "leak", "result": "not passed"}, CHECKER)
    looked = {"failure": "fastener 3 loose twice", "joints": f"{TWIN}, {OTHER}", "how": "same operator, by wrench",
              "result": "not in order", "found": "fastener 2 of the twin loose as well"}  # fmt: skip
    say("siblings looked at", JOINT, looked, CHECKER)
    say("exception", JOINT, {"gate": "protrusion", "authority": "chief engineer, letter 26-118"}, ENGINEER,
        reason="a longer bolt is on its way")  # fmt: skip
    say("hand-over", JOINT, {"from": OPERATOR, "to": "B. Quayle", "pass": "1", "last": "5"}, AUTHOR)
    say("isolation confirmed", JOINT, {"permit": "P-1", "isolation": "I-1", "proven_by": "A. Vance", "how": "vented"},
        AUTHOR, at=now - timedelta(days=3), basis="was told", reason="the permit book came back late")  # fmt: skip
    record = Fact.objects.filter(kind="tightening", joint=JOINT).order_by("seq")[1]
    key = services.joint(JOINT).tightenings[1].key
    say("correction", JOINT, {"record": key, "field": "fastener", "old": str(record.data["fastener"]), "new": "4"},
        ENGINEER, reason="the tag was read again")  # fmt: skip
    flag = next(f for f in services.joint(JOINT).proof.open_flags if f.code == "unread row")
    services.dispose(JOINT, flag.key, "engineering review", "the card was read by two people", ENGINEER)
    changed = {"from": "torque", "to": "torque and angle", "evidence": "marks", "authority": "letter 26-120"}
    say("method change", JOINT, changed, ENGINEER, reason="no wrench of the size")
    flag = next(f for f in services.joint(JOINT).proof.open_flags if "accept as is" in RULES[f.code].closed_by)
    services.dispose(JOINT, flag.key, "accept as is", "looked at beside the joint", ENGINEER)
    parts = {"part": "bolt", "condition": "new", "lot": "KL-7731"}
    say("parts fitted", JOINT, parts, AUTHOR, fasteners="1-4")
    say("parts fitted", TWIN, parts, AUTHOR, fasteners="2")
    say("lot received", "KL-7731", {"what": "studs M24", "document": "D-77", "heat": "H-204"}, KEEPER)
    say("lot blocked", "KL-7731", {}, KEEPER, reason="hardness above the limit")
    out = datetime(2026, 3, 17, 8, tzinfo=UTC)
    late: dict[str, Any] = {"at": out, "basis": "from paper", "reason": "taken over from the book of the store"}
    say("tool issued", "TW-0207", {"to": OPERATOR, "counter": "0", "epoch": "A"}, KEEPER, **late)
    late["at"] = out + timedelta(hours=9)
    say("tool returned", "TW-0207", {"from": OPERATOR, "counter": "10", "epoch": "A"}, KEEPER, **late)
    contact = {"tool_clock": "2026-03-17 08:00:00", "zone": "UTC", "true_clock": "2026-03-17T08:00:04Z",
               "uncertainty": "1", "trusted": "radio clock of the store"}  # fmt: skip
    say("clock contact", "TW-0207", contact, KEEPER, **late)
    device = {"set": "100 N.m", "device_value": "112 N.m", "device": "CD-2", "result": "outside limits"}
    say("shift check", "TW-0219", device, KEEPER)
    held = {"qualification": "flange assembly", "issued_by": "Kestrel Narrows school", "from": "2025-01-01",
            "until": "2035-01-01"}  # fmt: skip
    for name in (OPERATOR, "B. Quayle"):
        say("qualification", name, held, ENGINEER)
    say("qualification withdrawn", "B. Quayle", {"qualification": "flange assembly"}, ENGINEER,
        reason="exercise not passed")  # fmt: skip
    say("hold", JOINT, {"matter": "claim 26-31"}, ENGINEER, reason="asked for by the legal office")
    serial = _cards()
    with suppress(services.Refused):  # it stands in the log, which is what is asked for here
        services.issue_card(OTHER, "a4", AUTHOR, ("TW-0219",))
    services.refresh()
    return serial


def _cards() -> str:
    """One card back with a page missing, one void, one not found, one still out; a record from one never printed."""
    cards = [services.issue_card(OTHER, "a4", AUTHOR)[0].serial for _ in range(4)]
    pages = Fact.objects.get(key=f"card:{cards[0]}").data["pages"]
    say = services.add_entry
    say("card returned", OTHER, {"card": cards[0], "pages": str(pages - 1), "state": "filled in", "kept": "binder 4"},
        AUTHOR)  # fmt: skip
    say("card returned", OTHER, {"card": cards[1].lower(), "pages": str(pages), "state": "void"}, AUTHOR)
    say("card lost", OTHER, {"card": cards[2], "searched": "at the joint and in the store"}, AUTHOR,
        reason="not handed in")  # fmt: skip
    line = {"joint": OTHER, "event": "step", "pass": "1", "torque": "150.0", "torque unit": "N.m", "tool": "TW-0244",
            "operator": OPERATOR, "date": "2026-03-17", "time": "10:00", "zone": "UTC",
            "basis": "from paper"}  # fmt: skip
    rows = [line | {"fastener": str(n), "card serial": cards[0], "card line": str(n)} for n in (1, 2, 3)]
    rows.append(line | {"fastener": "4", "card serial": "KN-CW-014-JWEV-99", "card line": "4"})
    keying.key_in(rows, AUTHOR)
    return cards[0]
