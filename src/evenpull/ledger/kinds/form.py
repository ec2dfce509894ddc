"""What a kind of entry is made of: its fields, their forms, and what the fields say together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from evenpull.ledger.entry import Subject

Form = Literal[
    "text", "long text", "choice", "quantity", "number", "whole", "date", "moment", "flag", "person", "tool",
    "fastener", "numbers",
]  # fmt: skip


@dataclass(frozen=True)
class Field:
    """`quantity`: dimension for form "quantity" ("torque", "length", "angle", "temperature", ...)."""

    name: str
    label: str
    form: Form
    required: bool = True
    choices: tuple[str, ...] = ()
    quantity: str = ""
    help: str = ""


@dataclass(frozen=True)
class Kind:
    """`fasteners`: whether it names fasteners ("needed", "may", "no"). `caution`: stage of the caution catalogue shown
    with the form. `act`: which permission writes it. `second`: the writer must be no operator of the joint.
    `one_of`: at least one of these fields is stated. `rising`: pairs of fields, the first never beyond the second.
    `differ`: pairs that must not be the same."""

    name: str
    subject: Subject
    label: str
    meaning: str
    fields: tuple[Field, ...]
    fasteners: Literal["needed", "may", "no"] = "no"
    reason: bool = False  # a reason is always needed
    caution: str = ""
    act: str = "enter"
    second: bool = False
    one_of: tuple[str, ...] = ()
    rising: tuple[tuple[str, str], ...] = ()
    differ: tuple[tuple[str, str], ...] = ()


YES_NO = ("yes", "no")
PARTS = ("bolt", "stud", "nut", "washer", "gasket", "insert", "pin", "other")
GATES = (
    "identity", "isolation", "pass order", "last pass", "independent check", "qualification", "revision",
    "tool fit", "parts", "locking", "protrusion", "drag", "mark", "test",
)  # fmt: skip


def text(name: str, label: str, required: bool = True, help: str = "") -> Field:
    return Field(name, label, "text", required, help=help)


def choice(name: str, label: str, choices: tuple[str, ...], required: bool = True, help: str = "") -> Field:
    return Field(name, label, "choice", required, choices, help=help)


def quantity(name: str, label: str, dimension: str, required: bool = True, help: str = "") -> Field:
    return Field(name, label, "quantity", required, (), dimension, help)


def whole(name: str, label: str, required: bool = True, help: str = "") -> Field:
    return Field(name, label, "whole", required, help=help)


def person(name: str, label: str, required: bool = True, help: str = "") -> Field:
    return Field(name, label, "person", required, help=help)
