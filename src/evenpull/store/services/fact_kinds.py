"""The names of the kinds of facts, each written here and nowhere else."""

from __future__ import annotations

from evenpull.evidence import checking_second, succession

SPECIFICATION, TOOLS, MAPPING = "specification", "tool register", "mapping"
EQUIPMENT = "equipment register"
CERTIFICATE, CERTIFICATE_WITHDRAWN = "certificate", "certificate withdrawn"
CERTIFICATE_MAPPING = "certificate mapping"
FILE, RECORD, UNREAD, WITHDRAWN = "file", "tightening", "unread row", "reading withdrawn"
ENTRY, DISPOSITION = "entry", "disposition"
CARD, PACK, RELEASE = "card", "work pack", "release"
SCAN, SCANNED, PAGE_KEYED = "scan", "scanned page", "page keyed"
KEYING_DECIDED, CARD_ADMITTED = "keying decided", "card admitted"
SET_ASIDE = "scanned page set aside"
CALCULATION, PREDICTION = "calculation", "prediction"
STUDY, STUDY_CARD = "study", "study card"
ACCOUNT, REFUSAL = "account", "refusal"
CLOCK = "clock set back"  # the program writes it itself, before the fact that somebody wants to write
REQUESTED, STAMP = "time-stamp requested", checking_second.STAMP
SUCCESSION = succession.KIND
REVIEWED = "list reviewed"
REVIEW, REVIEW_SAID = "tool review", "tool review statement"
REVIEW_DECIDED, REVIEW_CLOSED = "tool review disposition", "tool review closed"
CURVES, CURVES_WITHDRAWN, CURVE_MAPPING = "curve file", "curve file withdrawn", "curve mapping"
LEARNED, REJUDGED = "learned windows", "curves judged again"
MADE, TESTED, RESTORED = "back-up made", "restore tested", "restored"
CARRIED_OUT, CARRIED_IN = "carrier made", "carrier taken in"

ALL = (
    SPECIFICATION, TOOLS, EQUIPMENT, CERTIFICATE, CERTIFICATE_WITHDRAWN, CERTIFICATE_MAPPING, MAPPING, FILE, RECORD,
    UNREAD, WITHDRAWN, ENTRY, DISPOSITION, CARD, PACK, RELEASE, CALCULATION, PREDICTION, STUDY, STUDY_CARD, REFUSAL,
    ACCOUNT, CLOCK, REQUESTED, STAMP, SUCCESSION,
    SCAN, SCANNED, PAGE_KEYED, KEYING_DECIDED, CARD_ADMITTED, SET_ASIDE,
    REVIEWED, REVIEW, REVIEW_SAID, REVIEW_DECIDED, REVIEW_CLOSED, MADE, TESTED, RESTORED,
    CARRIED_OUT, CARRIED_IN,
    CURVES, CURVES_WITHDRAWN, CURVE_MAPPING, LEARNED, REJUDGED,
)  # fmt: skip
