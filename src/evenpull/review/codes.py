"""Codes by which tightenings are grouped: class and state of the joint, other evidence, why one cannot be judged."""

from __future__ import annotations

from enum import IntEnum, IntFlag

CLASSES = ("A", "B", "C", "")  # code = place in this list; the last is a joint that nobody has described


class JointState(IntEnum):
    """Rising with what it takes to get at the joint again."""

    OPEN = 0
    IN_SERVICE = 1
    SHIPPED = 2

    @property
    def words(self) -> str:
        return ("open", "released or in service", "handed over")[self]


class Other(IntFlag):
    """What else speaks of the fastener. It is named, and raises or lowers no verdict."""

    ANGLE_IN = 1
    ANGLE = 2
    STRETCH = 4
    TEST = 8
    RESIDUAL = 16
    SECOND_TOOL = 32

    @property
    def words(self) -> tuple[str, ...]:
        return tuple(OTHER_WORDS[one] for one in Other if one in self)


OTHER_WORDS: dict[Other, str] = {
    Other.ANGLE_IN: "angle within its window", Other.ANGLE: "angle recorded", Other.STRETCH: "stretch measured",
    Other.TEST: "leak or run test passed", Other.RESIDUAL: "residual torque checked",
    Other.SECOND_TOOL: "pulled by another tool afterwards",
}  # fmt: skip


class Reason(IntEnum):
    """Why a tightening cannot be judged."""

    NONE = 0
    NO_TORQUE = 1
    NOT_DESCRIBED = 2
    NO_WINDOW = 3
    NO_RATIO = 4
    NO_CURVE = 5
    OUTSIDE_POINTS = 6

    @property
    def words(self) -> str:
        return (
            "", "no torque is on record", "the joint is not described here",
            "its pass is not stated or not planned, so there is no window",
            "what stood between the tool and the fastener is not known",
            "how far the tool was out is not known",
            "the value lies outside the points of the certificate, and beyond them nothing is known",
        )[self]
