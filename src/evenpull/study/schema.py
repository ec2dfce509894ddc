"""The schema of a study file: who reads what how often, against which window, and what it is asked to show.

The texts beside each key are the one source for the help on the page, the documentation and the commented template.
All values are plain numbers in the one unit that [measured] states.
"""

from __future__ import annotations

from typing import Annotated, get_args

from pydantic import Field, PlainValidator

from evenpull.plan.keys import YES_NO, Table, key
from evenpull.plan.schema import JointId
from evenpull.plan.values import (
    Day,
    Flag,
    Note,
    Text,
    Texts,
    choice,
    line_text,
    number_within,
    pattern,
    whole_within,
)
from evenpull.statistics.repeatability import Model
from evenpull.study.model import ANALYSED, KINDS, QUANTITIES

STUDY_FORM = "evenpull study 1"
MODELS: tuple[Model, ...] = get_args(Model)
LARGEST = 1e15  # of a number in a study file
MOST_PERSONS, MOST_PARTS, MOST_REPLICATES, MOST_READINGS = 50, 200, 5_000, 20_000
LONGEST_ROWS = 3_000_000  # characters of the readings
# What ends a study before its last day. Those marked True the program finds in the entries on tools and persons; the
# others a person has to see.
ENDS: dict[str, bool] = {
    "tool dropped": True, "tool lost": True, "tool blocked": True, "tool outside its limits": True,
    "exercise not passed": True, "tool repaired or adjusted": False, "another tool": False, "another person": False,
    "another device": False, "another procedure": False, "another part or fastener": False,
}  # fmt: skip

Number = Annotated[float, number_within(-LARGEST, LARGEST, "a number that can be computed with")]
Positive = Annotated[float, number_within(1e-9, 1e12, "more than zero")]
Spread = Annotated[float, number_within(0.0, 1e12, "a standard deviation")]
Confidence = Annotated[float, number_within(0.5, 0.999, "a confidence this can be")]
Share = Annotated[float, number_within(0.01, 0.9999, "a share this can be")]
Index = Annotated[float, number_within(0.1, 10.0, "an index this can be")]
Name = Annotated[str, pattern(r"[^,;]{1,40}", "1 to 40 characters without comma or semicolon")]
Rows = Annotated[str, PlainValidator(lambda value: line_text(value, most=LONGEST_ROWS, lines=True))]


class StudyTable(Table):
    id: JointId = key("name of the study", '"KN-ST-R1"', allowed="3 to 40 letters, digits, . _ -")
    name: Text = key("what is studied, in words", '"Long wrench on the check device"', allowed="text")
    kind: Annotated[str, choice(*KINDS)] = key(
        "several persons on several parts or targets; one run of one tool; a process over its usual changes; what each "
        "person delivers against a target", '"repeatability and reproducibility"', choices=KINDS,
    )  # fmt: skip
    revision: Text = key("revision of this file", '"A"', allowed="text")
    basis: Text = key("document by which it is done", '"KN-QP-07 revision B"', allowed="text")
    led_by: Text = key("person who leads it and keeps the display", '"V. Sunde-Farrow"', allowed="a person's name")
    tools: Texts = key(
        "serials of the tools that are studied, or that persons pull with; [] where it is about no tool",
        '["TW-0219"]', (), allowed="list of serials",
    )  # fmt: skip
    device: Text | None = key(
        "check device, transducer or load cell that the values are read on", '"CD-0003"', None, allowed="serial or name"
    )
    notes: Note | None = key("how it is done, and remarks", '"Tool set anew before each pull."', None, allowed="text")


class MeasuredTable(Table):
    quantity: Annotated[str, choice(*QUANTITIES)] = key("what is read", '"torque"', choices=QUANTITIES)
    unit: Text = key("unit of all values of this file", '"N.m"', allowed="a unit of the quantity; any word for other")
    resolution: Positive | None = key(
        "step of the display, in the unit", "0.1", None, allowed="more than 0; a coarse one hides scatter"
    )
    hidden: Flag = key(
        "whoever pulls does not see the display", "true", False, allowed="true or false", choices=YES_NO
    )
    analysed: Annotated[str, choice(*ANALYSED)] = key(
        "scale of the analysis: the value as read, what it lies above its target, or that as a share of the target in "
        "%; window, demands and expectations are on this scale", '"value"', "value", choices=ANALYSED,
    )  # fmt: skip


class DesignTable(Table):
    persons: Texts = key(
        "who pulls or reads, each by name; needed with persons in the study, left out otherwise",
        '["J. Mwangale", "R. Fjeldgaard", "S. Tamblyn"]', (), allowed=f"list of at most {MOST_PERSONS} names",
    )  # fmt: skip
    replicates: Annotated[int, whole_within(1, MOST_REPLICATES, "repeats are not what is done")] = key(
        "how often each person reads each part; of a machine capability all pulls, of a process those of one group",
        "3", allowed=f"1 to {MOST_REPLICATES}",
    )  # fmt: skip
    draw: Text = key(
        "any word: another one draws another order of the readings", '"1"', "1", allowed="text"
    )


class PartTable(Table):
    name: Name = key(
        "part, target or group by its name", '"150 N.m"', allowed="1 to 40 characters without comma or semicolon"
    )
    target: Number | None = key(
        "what is aimed at there, in the unit; also the true value of a reference part", "150", None, allowed="number"
    )


class WindowTable(Table):
    target: Number | None = key(
        "what is aimed at, in the unit, where the parts have no targets of their own", "150", None, allowed="number"
    )
    lower: Number | None = key("lower limit, on the scale analysed", "144", None, allowed="number")
    upper: Number | None = key("upper limit, on the scale analysed", "156", None, allowed="number")


class JudgedTable(Table):
    confidence: Confidence = key("confidence of all limits", "0.95", 0.95, allowed="0.5 to 0.999")
    content: Share = key("share of all pulls that a tolerance interval holds", "0.95", 0.95, allowed="0.01 to 0.9999")
    model: Annotated[str, choice(*MODELS)] = key(
        "whether persons may differ from part to part; without: only if there is no sign of it",
        '"with interaction"', "with interaction", choices=MODELS,
    )  # fmt: skip


class DemandTable(Table):
    precision: Annotated[float, number_within(0.1, 1000.0, "a share this can be")] | None = key(
        "most of 6 s of measuring, in % of the window (repeatability and reproducibility)", "30", None,
        allowed="0.1 to 1000",
    )  # fmt: skip
    index: Index | None = key(
        "least Cmk or Cpk, to be shown by its lower confidence limit", "1.67", None, allowed="0.1 to 10"
    )
    bias: Positive | None = key(
        "most that a person may deliver above or below the target, on the scale analysed (operator exercise)", "3",
        None, allowed="more than 0",
    )  # fmt: skip
    inside: Share | None = key(
        "least share of a person's pulls within the window (operator exercise)", "0.9", None, allowed="0.01 to 0.9999"
    )


class ExpectedTable(Table):
    repeat: Positive = key("standard deviation of one person on one part, expected", "1.2", allowed="more than 0")
    part: Spread = key("standard deviation of the parts", "4", 0.0, allowed="0 or more")
    operator: Spread = key("standard deviation between persons", "0.6", 0.0, allowed="0 or more")
    interaction: Spread = key("standard deviation of persons from part to part", "0.3", 0.0, allowed="0 or more")
    index: Index | None = key("Cmk or Cpk expected", "2", None, allowed="0.1 to 10")


class ValidityTable(Table):
    first: Day = key("first day on which the result counts", "2026-03-20", allowed="date", alias="from")
    last: Day | None = key("last day", "2027-03-19", None, allowed="date, from or later", alias="until")
    ends_with: Texts = key(
        "what ends it before that day", '["tool dropped", "tool repaired or adjusted"]', (),
        allowed=", ".join(ENDS) + "; or words of one's own",
    )  # fmt: skip


class ReadingsTable(Table):
    rows: Rows | None = key(
        "the readings in the order in which they were taken: a heading, then one line for each",
        "'''\noperator;part;replicate;value\nJ. Mwangale;150 N.m;1;150.8\n'''", None,
        allowed="lines of cells; columns operator, part (or group), replicate, value and, where there is something to "
        "say, at, remark, left out",
    )  # fmt: skip
    csv: Text | None = key(
        "or the file beside this one that holds them", '"readings.csv"', None, allowed="name of a file without folder"
    )


class StudyFile(Table):
    form: Annotated[str, choice(STUDY_FORM)] = key("mark of the file", f'"{STUDY_FORM}"', choices=(STUDY_FORM,))
    study: StudyTable
    measured: MeasuredTable
    design: DesignTable
    part: Annotated[tuple[PartTable, ...], Field(max_length=MOST_PARTS)] = ()
    window: WindowTable = WindowTable.model_construct()
    judged: JudgedTable = JudgedTable.model_construct()
    demand: DemandTable = DemandTable.model_construct()
    expected: ExpectedTable | None = None
    validity: ValidityTable | None = None
    readings: ReadingsTable | None = None
