"""The schema of a joint file and of a tool file: keys, what they mean, what is allowed.

The models only say what one value may be. What several values say together is checked in `checks`. The texts beside
each key are the one source for the help on the page, the documentation and the commented template.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from evenpull.plan.keys import YES_NO, Table, key
from evenpull.plan.model import JOINT_KINDS, NOT_STATED, NotStated
from evenpull.plan.proof_schema import FollowUpTable, GatesTable, KeepingTable, PartsTable
from evenpull.plan.values import (
    MOST_PERCENT,
    BandValue,
    Day,
    Flag,
    Grid,
    Groups,
    Note,
    Numbers,
    Passes,
    Settings,
    Share,
    Text,
    Texts,
    ToleranceValue,
    choice,
    flag_or_not_stated,
    number_within,
    pattern,
    quantity,
    quantity_or_not_stated,
    quantity_range,
    whole_within,
)
from evenpull.quantities import Measured

JOINT_FORM = "evenpull joint 1"
TOOLS_FORM = "evenpull tools 1"

Torque = Annotated[Measured, quantity("torque", 1e-3, 1e6)]
Length = Annotated[Measured, quantity("length", 1e-4, 10.0)]
LengthOrNot = Annotated[Measured | NotStated, quantity_or_not_stated("length", 1e-4, 10.0)]
FlagOrNot = Annotated[bool | NotStated, flag_or_not_stated()]
Circle = Annotated[Measured, quantity("length", 1e-3, 100.0)]
Force = Annotated[Measured, quantity("force", 1.0, 1e8)]
Angle = Annotated[Measured, quantity("angle", 1e-3, 100.0)]
AngleOrZero = Annotated[Measured, quantity("angle", 1e-3, 2 * 3.1416, zero=True)]
JointId = Annotated[str, pattern(
    r"[A-Za-z0-9][A-Za-z0-9._-]{2,39}",
    "3 to 40 letters, digits, dots, underscores and hyphens, beginning with a letter or digit",
)]
Serial = Annotated[str, pattern(
    r"[A-Za-z0-9][A-Za-z0-9 ._/-]{0,39}",
    "1 to 40 letters, digits, blanks and . _ / -, beginning with a letter or digit",
)]


CLASSES = ("A", "B", "C")
NUMBERING = ("clockwise", "anticlockwise")
OPEN = NOT_STATED.text  # a word for what the source does not say; goes with a thread that is not stated
YES_NO_OPEN = (*YES_NO, OPEN)
HEADS = ("hexagon", "heavy hexagon", "structural hexagon", "flanged hexagon", "socket cap", "stud", OPEN)
COUNTERPARTS = ("nut", "tapped hole")
TURNED = ("nut", "head")
CONDITIONS = ("new", "used", OPEN)
METHODS = ("torque", "torque and angle")
RULES = ("friction", "nut factor", OPEN)
ORDERS = ("star", "circular", "grouped", "listed")
TOOL_KINDS = ("setting", "indicating", "powered", "hydraulic")


class JointTable(Table):
    id: JointId = key("name of the joint as it stands on its tag", '"KN-CW-014"',
                      allowed="3 to 40 letters, digits, . _ -")
    name: Text = key("what the joint is, in words", '"Pump discharge flange"', allowed="text")
    place: Text = key("where it is", '"Kestrel Narrows / unit 2 / cooling water / gallery 3"', allowed="text")
    kind: Annotated[str, choice(*JOINT_KINDS)] = key("what kind of joint", '"gasketed flange"', choices=JOINT_KINDS)
    joint_class: Annotated[str, choice(*CLASSES)] = key(
        "consequence of failure: A danger to life, limb or environment, B loss of function, C the rest (after VDI/VDE "
        "2862, from memory)", '"B"', choices=CLASSES, alias="class")
    viewed_from: Text = key("from where the map is seen", '"the pump, looking downstream"', allowed="text")
    first_fastener: Text = key("where fastener 1 is", "\"at 12 o'clock, next to the keyway\"", allowed="text")
    numbering: Annotated[str, choice(*NUMBERING)] = key(
        "which way fasteners are counted, as seen from there", '"clockwise"', choices=NUMBERING)


class SourceTable(Table):
    document: Text = key("document that specifies the joint", '"KN-SPEC-0114"', allowed="text")
    revision: Text = key("its revision", '"C"', allowed="text")
    place: Text = key("page, table or line in it", '"table 4, line 14"', allowed="text")
    approved_by: Text = key("who approved it", '"M. Okonjo-Reyes"', allowed="text")
    in_force_from: Day = key("first day on which the revision counts", "2026-02-02", allowed="date, no quotes")
    copied_from: JointId | None = key("joint whose file this one was made from; the two are then compared",
                                      '"KN-CW-008"', None, allowed="id of a joint")


class SecondSourceTable(Table):
    document: Text = key("another document that states a torque for this joint; a torque that differs stops the work",
                         '"KN-MAN-027"', allowed="text")
    revision: Text = key("its revision", '"2"', allowed="text")
    place: Text = key("page, table or line in it", '"page 31"', allowed="text")
    torque: Torque = key("the torque it states, without drag", '"350 N.m"', allowed="torque", unit="N.m, lbf.ft")


class FastenersTable(Table):
    count: Annotated[int, whole_within(1, 200, "fasteners are not what a joint can have here")] = key(
        "how many fasteners, all alike", "16", allowed="1 to 200")
    thread: Text = key("thread by its standard name; not stated: then no load is computed, class and rule are not "
                       "stated either, the target is a torque, and length, head, hole, engagement, washers, condition, "
                       "thickness and lubricant may be not stated", '"M24"',
                       allowed="M16, M16x1.5, 3/4-10 UNC, 1-8 UNC, 1 1/4-8 UN; not stated, together with class")
    strength_class: Text = key("property class or grade of the bolt", '"8.8"',
                               allowed="4.6 to 12.9, A2-70, A4-80, SAE J429 grade 5 ...; not stated, together with "
                               "thread", alias="class")
    length: LengthOrNot = key("nominal length", '"110 mm"', allowed="length; not stated, when the thread is not stated",
                              unit="mm, in")
    head: Annotated[str, choice(*HEADS)] = key("form of the head", '"hexagon"', choices=HEADS)
    counterpart: Annotated[str, choice(*COUNTERPARTS)] = key("what the thread goes into", '"nut"', choices=COUNTERPARTS)
    nut_class: Text | None = key("property class of the nut", '"8"', None, allowed="5, 6, 8, 10, 12, A2-70, A4-80 ...; "
                                 "with a nut only")
    tapped_material: Text | None = key("material of the tapped hole", '"EN AW-6082-T6"', None,
                                       allowed="text; with a tapped hole only")
    engagement: LengthOrNot | None = key("length of thread engaged", '"20 mm"', None,
                                         allowed="length; not stated, when the thread is not stated; with a tapped "
                                         "hole only", unit="mm, in")
    washer_under_head: FlagOrNot = key("washer under the head", "true", choices=YES_NO_OPEN,
                                       allowed="true or false; not stated, when the thread is not stated")
    washer_under_nut: FlagOrNot | None = key("washer under the nut; needed with a nut", "true", None,
                                             choices=YES_NO_OPEN,
                                             allowed="true or false; not stated, when the thread is not stated")
    hole: Text = key("clearance hole: series of ISO 273 (metric threads) or diameter", '"medium"',
                     allowed="fine, medium, coarse or a diameter such as 26 mm; not stated, when the thread is not "
                     "stated", unit="mm, in")
    bearing_face: Length | None = key("outside diameter of the face that slips under the turned end, when it is not "
                                      "that of the standard", '"33.6 mm"', None, allowed="length, more than the hole",
                                      unit="mm, in")
    turned: Annotated[str, choice(*TURNED)] = key("which end is turned", '"nut"', choices=TURNED)
    condition: Annotated[str, choice(*CONDITIONS)] = key("new or used fasteners", '"new"', choices=CONDITIONS)
    lot: Text | None = key("lot of the fasteners", '"KL-7731"', None, allowed="text")
    circle: Circle | None = key("bolt circle diameter; places the fasteners on the map", '"470 mm"', None,
                                allowed="length; not with grid", unit="mm, in")
    grid: Grid | None = key("rows and columns of a pattern without a ring, numbered row by row", "[2, 4]", None,
                            allowed="two whole numbers whose product is count; not with circle")


class ClampedTable(Table):
    part: Text = key("name of the part", '"flange"', allowed="text")
    material: Text = key("its material", '"steel"', allowed="text")
    thickness: LengthOrNot = key("thickness between the bearing faces", '"30 mm"', unit="mm, in",
                                 allowed="length; not stated, when the thread is not stated")


class FrictionTable(Table):
    lubricant: Text = key("lubricant, or how the threads are delivered", '"molybdenum disulfide paste"',
                          allowed="a name of the catalogue, or any text when mu_G, mu_K and basis are stated or the "
                          "thread is not stated")
    mu_G: BandValue | None = key("coefficient of friction in the thread: least, nominal, most", "[0.10, 0.12, 0.14]",
                                 None, allowed="three rising numbers")
    mu_K: BandValue | None = key("coefficient of friction under the turned face", "[0.10, 0.12, 0.14]", None,
                                 allowed="three rising numbers")
    K: BandValue | None = key("nut factor, torque = K x load x d", "[0.14, 0.16, 0.18]", None,
                              allowed="three rising numbers")
    basis: Text | None = key("on what stated values rest", '"test KN-T-031 of lot KL-7731, method of ISO 16047"', None,
                             allowed="text; needed when values are stated")


class TargetTable(Table):
    method: Annotated[str, choice(*METHODS)] = key("how the load is reached", '"torque"', choices=METHODS)
    rule: Annotated[str, choice(*RULES)] = key(
        "load from thread and bearing friction (geometry of VDI 2230-1), or from the nut factor; not stated with a "
        "thread that is not stated", '"friction"',
        choices=RULES)
    torque: Torque | None = key("target as a torque, without the drag of a self-locking nut (that is added)",
                                '"350 N.m"', None, allowed="exactly one of torque, preload, utilisation",
                                unit="N.m, lbf.ft")
    preload: Force | None = key("target as a load", '"140 kN"', None,
                                allowed="exactly one of torque, preload, utilisation", unit="kN, lbf")
    utilisation: Annotated[float, number_within(0.05, 1.0, "a utilisation this can be")] | None = key(
        "target as share of the yield strength, tension with torsion", "0.7", None,
        allowed="0.05 to 1; exactly one of torque, preload, utilisation")
    tolerance: ToleranceValue = key("how far a record may be from the target, up and down", '"5 %"',
                                    allowed='share ("5 %", 0.05), at most 30 %, or torque ("0.2 N.m")')
    required_preload: Force | None = key("least load each fastener must keep", '"95 kN"', None, allowed="force",
                                         unit="kN, lbf")
    utilisation_limit: Annotated[float, number_within(0.1, 1.0, "a utilisation this can be")] = key(
        "most the fastener may be used, share of yield", "0.9", 0.9, allowed="0.1 to 1")
    prevailing_torque: Torque | None = key("drag of a self-locking nut", '"12 N.m"', None,
                                           allowed="torque, less than the target", unit="N.m, lbf.ft")
    angle: Angle | None = key("angle to turn on, with method torque and angle", '"60 deg"', None, allowed="angle",
                              unit="deg")
    angle_window: Annotated[tuple[Measured, Measured], quantity_range("angle", 1e-3, 100.0)] | None = key(
        "accepted angles, with method torque and angle", '["45 deg", "75 deg"]', None, allowed="two angles, rising",
        unit="deg")


class ProcedureTable(Table):
    order: Annotated[str, choice(*ORDERS)] = key(
        "order of the pulls; on a grid star means from the centre outwards", '"star"', choices=ORDERS)
    passes: Passes = key("percent of the target in each pass", "[30, 70, 100]",
                         allowed="rising, the last 100, at most ten")
    settings: Settings | None = key(
        "settings of single fasteners, in percent of the target torque: a list for each pass, in it a percent for each "
        "fastener from 1 on, or one alone, that of passes, for all; the loads that they leave are predicted, no record "
        "proves them; with method torque only", "[[30], [123, 118, 110, 100]]", None,
        allowed="as many lists as passes; in the last a setting of at least 100")
    settings_limit: Annotated[float, number_within(100, MOST_PERCENT, "a limit of the settings")] | None = key(
        "highest percent of the target torque that a fastener may be set to in any pass; has to be stated where a "
        "setting is above 100", "125", None, allowed=f"100 to {MOST_PERCENT:g}")
    check_passes: Annotated[int, whole_within(0, 10, "check passes are not what is done")] = key(
        "passes at 100 % after the last, to see which fasteners still move", "1", 0, allowed="0 to 10")
    check_order: Annotated[str, choice(*ORDERS)] = key(
        "order of the check passes", '"circular"', "circular", choices=ORDERS)
    tools_at_once: Annotated[int, whole_within(1, 16, "tools cannot work on one joint at once")] = key(
        "tools that pull at the same time", "1", 1, allowed="1 to 16, not more than fasteners")
    groups: Groups | None = key("with order grouped: the groups in their sequence; left out: neighbours",
                                "[[1, 2], [9, 10]]", None, allowed="lists that hold each fastener once")
    listed: Numbers | None = key("with order listed: the sequence", "[1, 9, 5, 13]", None,
                                 allowed="each fastener once")
    movement_limit: Angle | None = key("check pass: a fastener that turns more has moved", '"5 deg"', None,
                                       allowed="angle", unit="deg")
    strict_passes: Flag = key("a pass must be complete on all fasteners before the next begins", "true", True,
                              allowed="true or false", choices=YES_NO)
    strict_order: Flag = key("records out of the planned order need a decision", "false", False,
                             allowed="true or false", choices=YES_NO)


class ToolsTable(Table):
    allowed: Texts = key("serials of the tools that may be used", '["TW-0207", "TW-0219"]',
                         allowed="serials of the tool register")


class SeriesTable(Table):
    unit_name: Text = key("many units of the same joint: what a unit is called", '"workpiece"', allowed="text")


class NotesTable(Table):
    text: Note | None = key("note printed on the card", '"The gasket is new each time."', None, allowed="text")
    cautions: Texts = key("keys of the caution catalogue that apply besides those found by rule", "[]", (),
                          allowed="keys of the caution catalogue")


class JointFile(Table):
    form: Annotated[str, choice(JOINT_FORM)] = key("mark of the file", f'"{JOINT_FORM}"', choices=(JOINT_FORM,))
    joint: JointTable
    source: SourceTable
    second_source: Annotated[tuple[SecondSourceTable, ...], Field(max_length=20)] = ()
    fasteners: FastenersTable
    clamped: Annotated[tuple[ClampedTable, ...], Field(min_length=1, max_length=50)]
    friction: FrictionTable
    target: TargetTable
    procedure: ProcedureTable
    tools: ToolsTable
    series: SeriesTable | None = None
    parts: PartsTable | None = None
    gates: GatesTable | None = None
    follow_up: Annotated[tuple[FollowUpTable, ...], Field(max_length=20)] = ()
    keeping: KeepingTable | None = None
    notes: NotesTable | None = None


class AdapterTable(Table):
    name: Text = key("what the adapter is", '"crow-foot 36 mm"', allowed="text")
    length: Length = key("from the drive centre to the fastener centre", '"60 mm"', allowed="length", unit="mm, in")
    angle: AngleOrZero = key("between handle line and adapter: 0 straight out, 90 square, 180 folded back", '"0 deg"',
                             allowed="angle, 0 to 360 deg", unit="deg")


class ToolTable(Table):
    serial: Serial = key("serial of the tool", '"TW-0207"', allowed="1 to 40 letters, digits, blanks, . _ / -")
    name: Text = key("what it is", '"Setting torque wrench"', allowed="text")
    kind: Annotated[str, choice(*TOOL_KINDS)] = key("kind of tool", '"setting"', choices=TOOL_KINDS)
    unit: Text = key("unit of its scale", '"N.m"', allowed="N.m, lbf.ft, lbf.in, ...")
    range: Annotated[tuple[Measured, Measured], quantity_range("torque", 1e-3, 1e6)] = key(
        "lowest and highest value of the scale", '["40 N.m", "200 N.m"]', allowed="two torques, rising",
        unit="N.m, lbf.ft")
    resolution: Torque = key("smallest step of the scale", '"1 N.m"', allowed="torque", unit="N.m, lbf.ft")
    uncertainty: Share = key("expanded uncertainty (k = 2) of its certificate, share of the reading", '"2.4 %"',
                             allowed="share, at most 30 %")
    certificate: Text = key("number of the calibration certificate", '"KNC-26-0311"', allowed="text")
    certificate_from: Day = key("first day of the certificate", "2026-02-10", allowed="date, no quotes")
    certificate_until: Day = key("last day of the certificate", "2027-02-09", allowed="date, no quotes")
    lever: Length | None = key("from the hand mark to the drive centre", '"480 mm"', None,
                               allowed="length; needed with an adapter", unit="mm, in")
    multiplier_ratio: Annotated[float, number_within(0.1, 1000, "a ratio this can be")] = key(
        "torque out over torque in of a multiplier, losses included", "1.0", 1.0, allowed="0.1 to 1000; 1 if none")
    adapter: AdapterTable | None = None


class ToolsFile(Table):
    form: Annotated[str, choice(TOOLS_FORM)] = key("mark of the file", f'"{TOOLS_FORM}"', choices=(TOOLS_FORM,))
    tool: Annotated[tuple[ToolTable, ...], Field(min_length=1, max_length=5000)]

