"""What people decided in the story: dispositions of flags, and who signs which release. All invented."""

from __future__ import annotations

from dataclasses import dataclass

from evenpull.proof.model import Action, Flag

LEAD = "M. Okonjo-Reyes"
ENGINEER_OF_RECORD = "S. Quillfeather"
CLERK = "P. Achterberg-Lowe"
HALL_LEAD = "T. Abernethy-Voss"


@dataclass(frozen=True)
class StoryDecision:
    """One person's decision on the flags of one joint with that code (and that fastener, if given)."""

    joint: str
    code: str
    fastener: int | None
    action: Action
    reason: str
    by: str

    def concerns(self, flag: Flag) -> bool:
        """Whether `flag` of the joint is meant."""
        return flag.code == self.code and self.fastener in (None, flag.fastener)


DECISIONS = (
    StoryDecision(
        "KN-ST-003",
        "out of order",
        None,
        "engineering review",
        "Number 7 had its second step while six bolts had no first step. Round number 7 no gap took a 0.1 mm feeler "
        "gauge, before and after the second step of all others. Accepted for this splice.",
        ENGINEER_OF_RECORD,
    ),
    StoryDecision(
        "KN-GB-006",
        "angle out of window",
        7,
        "replace",
        "Turned 71.5 degrees at the right torque: the thread gave way. Bolt and nut 7 replaced from lot KL-7750 and "
        "tightened again in both passes; the old bolt went to the materials room, tag 26-118.",
        HALL_LEAD,
    ),
    StoryDecision(
        "KN-CW-014",
        "missing",
        11,
        "redo",
        "Number 11 was left out in the last pass. To be tightened, then a new check pass over all sixteen.",
        LEAD,
    ),
)

# Joint, who signs, and what the signature states.
SIGNATURES = (
    ("KN-BH-021", HALL_LEAD, "Tightened, checked and recorded as specified. Fit for the trial run."),
    ("KN-GB-006", HALL_LEAD, "Tightened and recorded as specified, number 7 with a new bolt. Fit for the trial run."),
    ("KN-CW-008", LEAD, "Tightened, checked and recorded as specified. No pressure before the follow-up."),
    ("KN-ST-003", LEAD, "Tightened and recorded; number 7 was reviewed by the structural engineer of record."),
    ("KN-CW-026", LEAD, "Opened, put back, tested and recorded as specified. After 500 h it is tightened again."),
    ("KN-CW-014", LEAD, "Tightened, checked and recorded as specified."),
)
