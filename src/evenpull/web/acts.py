"""Which act each address is, for reading (GET) and for writing (POST): data, so that every cell can be tested.

None: nobody may write there. "any": open to whoever is there, logged in or not.
"""

from __future__ import annotations

from evenpull.store.access import Act, act_of_entry

OPEN = ("log-in", "static")  # answered without being logged in
_READ: tuple[Act, None] = ("read", None)

# name of the address -> (act of GET, act of POST)
ACTS: dict[str, tuple[Act | str, Act | str | None]] = {
    "joints": _READ,
    "who": ("read", "read"),
    "log-in": ("any", "any"),
    "log-out": ("any", "any"),
    "password": ("read", "read"),
    "accounts": ("accounts", "accounts"),
    "new-joint": ("read", "describe"),
    "joint": _READ,
    "change-joint": ("read", "describe"),
    "issue-card": (_READ[0], "issue"),
    "packs": ("read", "issue"),
    "pack-pdf": _READ,
    "carriers": ("read", "carry"),
    "look-carrier": (_READ[0], "carry"),
    "take-carrier": (_READ[0], "carry"),
    "carrier-file": ("carry", None),
    "decide-together": _READ,
    "dispose": (_READ[0], "decide"),
    "sign": (_READ[0], "sign"),
    "report": _READ,
    "bundle": ("export", None),
    "new-entry": ("read", "entry"),
    "typed-record": ("read", "take in"),
    "siblings": _READ,
    "joint-tools": _READ,
    "new-entry-other": ("read", "entry"),
    "audit": _READ,
    "audit-find": _READ,
    "audit-draw": _READ,
    "audit-changes": _READ,
    "audit-recurrences": _READ,
    "audit-list": ("read", "check"),
    "audit-read": _READ,
    "audit-fact": _READ,
    "audit-revisions": _READ,
    "audit-counters": _READ,
    "audit-clocks": _READ,
    "audit-drift": _READ,
    "audit-training": _READ,
    "audit-inspections": _READ,
    "audit-barred": _READ,
    "audit-cards": _READ,
    "audit-keeping": _READ,
    "audit-terms": _READ,
    "history": _READ,
    "calculations": _READ,
    "new-calculation": ("read", "describe"),
    "calculation": _READ,
    "change-calculation": ("read", "describe"),
    "calculation-pdf": _READ,
    "predictions": _READ,
    "new-prediction": ("read", "describe"),
    "prediction": _READ,
    "change-prediction": ("read", "describe"),
    "prediction-intervals": _READ,
    "prediction-found": _READ,
    "prediction-plan": ("read", "describe"),
    "prediction-pdf": _READ,
    "studies": _READ,
    "new-study": ("read", "study"),
    "study": _READ,
    "change-study": ("read", "study"),
    "run-study": ("read", "study"),
    "study-cards": (_READ[0], "study"),
    "type-study-card": _READ,
    "study-card": _READ,
    "plan-study": _READ,
    "sampling": _READ,
    "drift": _READ,
    "card": _READ,
    "paper": _READ,
    "paper-card": _READ,
    "paper-crop": _READ,
    "drop-scan": (_READ[0], "take in"),
    "admit-card": (_READ[0], "decide"),
    "set-page-aside": (_READ[0], "decide"),
    "write-paper": (_READ[0], "key"),
    "key-page": ("key", "key"),
    "check-keying": (_READ[0], "key"),
    "settle-page": ("settle", "settle"),
    "intake": _READ,
    "preview": ("read", "take in"),
    "commit": (_READ[0], "take in"),
    "add-mapping": (_READ[0], "describe"),
    "suggest": ("read", "take in"),
    "confirm-suggested": (_READ[0], "describe"),
    "file": _READ,
    "withdraw": (_READ[0], "withdraw"),
    "raw-file": ("export", None),
    "reviews": _READ,
    "new-review": ("read", "tools"),
    "review": _READ,
    "review-joint": _READ,
    "review-decide": (_READ[0], "decide"),
    "review-say": (_READ[0], "say"),
    "review-close": (_READ[0], "sign"),
    "review-pdf": _READ,
    "review-csv": _READ,
    "review-xlsx": _READ,
    "tools": ("read", "tools"),
    "equipment": ("read", "tools"),
    "equipment-due": _READ,
    "new-certificate": ("read", "tools"),
    "certificate-table": ("read", "tools"),
    "commit-certificates": (_READ[0], "tools"),
    "add-certificate-mapping": (_READ[0], "tools"),
    "withdraw-certificate": (_READ[0], "tools"),
    "instrument": _READ,
    "log": _READ,
}


def act_of(name: str, method: str, kind: str) -> Act | str | None:
    """The act of a request; `kind` is the kind of entry that a form names, "" otherwise. None: refused to everybody.
    KeyError for an address that is not in the table."""
    reading, writing = ACTS[name]
    act = reading if method in ("GET", "HEAD", "OPTIONS") else writing
    if act == "entry":
        return act_of_entry(kind)
    if act == "say":  # of a review: what a tool keeper knows, and what whoever decides has considered
        return "decide" if kind == "notices" else "tools"
    return act
