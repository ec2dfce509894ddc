"""What may be decided on a joint that a review concerns, and what each decision leaves to be done."""

from __future__ import annotations

from typing import Literal, get_args

Act = Literal[
    "accept as is", "engineering review", "re-check sample", "re-check all", "re-tighten", "open and inspect",
    "replace", "work done",
]
ACTS: tuple[Act, ...] = get_args(Act)
MEANING: dict[Act, str] = {
    "accept as is": "A named person takes the joint as it stands, with the reason.",
    "engineering review": "The engineer who answers for the joint has decided that it may stay, with the reason.",
    "re-check sample": "So many fasteners drawn at random are to be checked with a sound tool; the joint stays open.",
    "re-check all": "Every fastener concerned is to be checked with a sound tool; the joint stays open.",
    "re-tighten": "The fasteners concerned are to be tightened again by the joint's own file; the joint stays open.",
    "open and inspect": "The joint is to be opened and its parts looked at; the joint stays open.",
    "replace": "The fasteners concerned are to be replaced; the joint stays open.",
    "work done": "What was decided before is done; the reason names the records or papers that show it.",
}
SETTLING: tuple[Act, ...] = ("accept as is", "engineering review", "work done")
WORK: tuple[Act, ...] = tuple(act for act in ACTS if act not in SETTLING)


def refusal(act: str, joint_class: str, surely_out: int, before: str) -> str:
    """Why this decision cannot be taken on a joint with so many tightenings (or loads) surely out; "" when it can.
    `before`: the decision that stands, "" for none."""
    if act not in ACTS:
        return f"{act!r} is no disposition of a review; there are: {', '.join(ACTS)}"
    if act == "accept as is" and joint_class == "A" and surely_out:
        return ("'accept as is' cannot stand for a joint of class A with tightenings or loads that are surely out: let "
                "the engineer decide (engineering review), or have it done again")
    if act == "work done" and before not in WORK:
        return "'work done' follows a decision that something is to be done; decide first what"
    return ""
