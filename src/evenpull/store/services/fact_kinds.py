"""The names of the kinds of facts, each written here and nowhere else."""

from __future__ import annotations

from evenpull.evidence import checking_second, succession

SPECIFICATION, TOOLS, MAPPING = "specification", "tool register", "mapping"
FILE, RECORD, UNREAD, WITHDRAWN = "file", "tightening", "unread row", "reading withdrawn"
ENTRY, DISPOSITION = "entry", "disposition"
CARD, RELEASE = "card", "release"
CALCULATION, PREDICTION = "calculation", "prediction"
STUDY, STUDY_CARD = "study", "study card"
ACCOUNT, REFUSAL = "account", "refusal"
CLOCK = "clock set back"  # the program writes it itself, before the fact that somebody wants to write
REQUESTED, STAMP = "time-stamp requested", checking_second.STAMP
SUCCESSION = succession.KIND
REVIEWED = "list reviewed"
MADE, TESTED, RESTORED = "back-up made", "restore tested", "restored"

ALL = (
    SPECIFICATION, TOOLS, MAPPING, FILE, RECORD, UNREAD, WITHDRAWN, ENTRY, DISPOSITION, CARD, RELEASE, CALCULATION,
    PREDICTION, STUDY, STUDY_CARD, REFUSAL, ACCOUNT, CLOCK, REQUESTED, STAMP, SUCCESSION,
    REVIEWED, MADE, TESTED, RESTORED,
)  # fmt: skip
