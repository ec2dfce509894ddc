"""The decisions that people may take on a flag, what each means, and which flags it is meant for."""

from __future__ import annotations

from evenpull.proof.model import Action, FlagCode

ACTIONS: tuple[Action, ...] = (
    "accept as is",
    "redo",
    "replace",
    "engineering review",
    "not this joint",
    "superseded",
)
ACTION_MEANING: dict[Action, str] = {
    "accept as is": "A named person takes it as it stands. Closes at once and leaves a follow-up.",
    "redo": "It is to be pulled again. Closes only when a later record is accepted in that place. After a torque or "
    "angle that may have harmed the fastener, it has to be loosened or replaced first.",
    "replace": "The fastener is to be replaced. Closes only when later records are accepted in all passes of it. A "
    "movement on a check pass is settled by a check of all.",
    "engineering review": "The engineer who answers for the joint has decided. Closes at once and leaves a follow-up.",
    "not this joint": "The record or row belongs elsewhere. All that the flag names is left out of the judgement of "
    "this joint. Leaves a follow-up when a record spoke against a fastener.",
    "superseded": "Another record stands for the same pull. This one is left out of the judgement. Where one of "
    "several stands, the place has to be accepted. Leaves a follow-up when a record spoke against a fastener.",
}
PERSON: tuple[Action, ...] = ("accept as is", "engineering review")  # close at once, leave a follow-up
AGAIN: tuple[Action, ...] = ("redo", "replace")  # close when later records prove it
# What speaks against a fastener: leaving such a record out of the judgement leaves a follow-up too.
AGAINST: tuple[FlagCode, ...] = (
    "wrong direction",
    "out of window",
    "not reached",
    "angle out of window",
    "source disagrees",
    "pass not stated",
    "unknown pass",
)
LEAVE_OUT: tuple[Action, ...] = ("not this joint", "superseded")  # take the record out of the judgement

REVIEW: tuple[Action, ...] = ("accept as is", "redo", "engineering review")
ANY: tuple[Action, ...] = ACTIONS
RECORD: tuple[Action, ...] = ("accept as is", "redo", "engineering review", "not this joint", "superseded")
