"""The schema of a ring file: a bolted ring as it is drawn, its bolts and gasket, and the procedures to predict.

The texts beside each key are the one source for the help on the page, the documentation and the commented template.
Keys carry the symbols of the trade; what is left out is "not stated".
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from evenpull.calculation.schema import MaterialTable, SectionTable
from evenpull.calculation.values import Force, Length, LengthOrZero, Stiffness, Stress, Torque, share
from evenpull.plan.keys import Table, key
from evenpull.plan.schema import COUNTERPARTS, ORDERS, JointId
from evenpull.plan.values import Groups, Note, Numbers, Text, choice, number_within, whole_within
from evenpull.prediction.values import (
    BendingStiffness,
    CreepRate,
    Diameter,
    Duration,
    LoadingCurve,
    Settings,
    Shares,
    SmallAngle,
    StepList,
    StiffnessPerArea,
    TargetShare,
)
from evenpull.ring.sane import LEAST_BOLTS, MOST_BOLTS
from evenpull.ring.scatter.friction import STATIC_EXCESS

RING_FORM = "evenpull ring 1"
SECOND = ("same", "stated")
LAWS = ("loading curve", "linear", "metal to metal")
NECKS = ("inside", "outside")
BASIS = "where the values of this table come from: document, revision, place"
MM = "mm, in"
MOST_PROCEDURES = 12

Spread = Annotated[float, share(0.6)]
NutFactor = Annotated[float, number_within(0.02, 1.0, "a nut factor this can be")]


class RingTable(Table):
    id: JointId = key("name of the prediction", '"KN-CW-014-R1"', allowed="3 to 40 letters, digits, . _ -")
    name: Text = key("what is predicted, in words", '"Pump discharge flange: which order?"', allowed="text")
    joint: JointId | None = key("joint of the dossier that this is about", '"KN-CW-014"', None, allowed="id of a joint")
    revision: Text = key("revision of this file", '"A"', allowed="text")
    basis: Text = key(
        "document that the inputs come from, unless a table says otherwise", '"drawing KN-D-0114"', allowed="text"
    )
    second_flange: Annotated[str, choice(*SECOND)] = key(
        "the flange on the other side: the same as [flange], or stated in [second_flange]", '"same"', choices=SECOND
    )
    notes: Note | None = key("assumptions and remarks", '"Gasket curve of the maker."', None, allowed="text")


class RaisedFaceTable(Table):
    outside_diameter: Diameter = key("its outside diameter", '"415 mm"', allowed="length", unit=MM)
    height: Length = key("how far it stands above the ring", '"2 mm"', allowed="length", unit=MM)
    inside_diameter: Diameter | None = key(
        "where it begins; left out: at the bore", '"330 mm"', None, allowed="length", unit=MM
    )


class NeckTable(Table):
    side: Annotated[str, choice(*NECKS)] = key(
        "hub and pipe on the inside (pipe flange), or shell flush with the outside (tower ring)", '"inside"', "inside",
        choices=NECKS,
    )  # fmt: skip
    at_back: Length = key(
        "thickness of hub or shell where it meets the back of the ring", '"24 mm"', allowed="length", unit=MM
    )
    wall: Length = key("thickness of the pipe or shell beyond the taper", '"10 mm"', allowed="length", unit=MM)
    length: LengthOrZero = key("length of the taper", '"40 mm"', 0.0, allowed="length or 0 mm", unit=MM)
    pipe_length: Length | None = key(
        "how much of pipe or shell takes part; left out: 2.5 sqrt(r s), beyond which bending has died away",
        '"120 mm"', None, allowed="length", unit=MM,
    )  # fmt: skip


class RingFlangeTable(Table):
    bore: Diameter = key("inside diameter of the ring", '"324 mm"', allowed="length", unit=MM)
    outside_diameter: Diameter = key("outside diameter of the ring", '"535 mm"', allowed="length", unit=MM)
    thickness: Length = key("thickness of the ring, without raised face", '"30 mm"', allowed="length", unit=MM)
    hole: Text = key(
        "clearance hole: series of ISO 273 (metric threads) or diameter; not used where the thread is tapped into this "
        "flange", '"medium"', allowed="fine, medium, coarse or a diameter such as 26 mm", unit=MM,
    )  # fmt: skip
    material: Text = key(
        "material: a name of the catalogue or of a [[material]] of this file; gives E", '"steel"', allowed="name"
    )
    nu: Annotated[float, number_within(0.0, 0.49, "a Poisson's ratio this can be")] = key(
        "Poisson's ratio; left out: that of steel (from memory, not re-read)", "0.3", 0.3, allowed="0 to 0.49"
    )
    basis: Text | None = key(BASIS, '"drawing KN-D-0114-03"', None, allowed="text")
    raised_face: RaisedFaceTable | None = None
    neck: NeckTable | None = None


class RingBoltTable(Table):
    count: Annotated[int, whole_within(LEAST_BOLTS, MOST_BOLTS, (
        f"bolts: fewer than {LEAST_BOLTS} do not hold two flanges parallel, and the model does not follow flanges that "
        f"tip; more than {MOST_BOLTS} are not what it is made for"
    ))] = key(
        "how many bolts, all alike and evenly spaced", "16", allowed=f"{LEAST_BOLTS} to {MOST_BOLTS}"
    )  # fmt: skip
    circle: Diameter = key("bolt circle diameter", '"470 mm"', allowed="length", unit=MM)
    thread: Text = key(
        "thread by its standard name", '"M24"', allowed="M16, M16x1.5, 3/4-10 UNC, 1-8 UNC, 1 1/4-8 UN"
    )
    strength_class: Text | None = key(
        "property class or grade; left out when strengths are stated", '"8.8"', None,
        allowed="4.6 to 12.9, A2-70, A4-80, SAE J429 grade 5 ...", alias="class",
    )  # fmt: skip
    R_m: Stress | None = key(
        "tensile strength, lowest; with R_p02 instead of a class", '"830 MPa"', None, allowed="stress", unit="MPa, ksi"
    )
    R_p02: Stress | None = key(
        "yield strength, lowest; with R_m instead of a class", '"660 MPa"', None, allowed="stress", unit="MPa, ksi"
    )
    S_p: Stress | None = key(
        "proof stress, where the standard of the bolt gives one", '"600 MPa"', None,
        allowed="stress; goes with R_m and R_p02", unit="MPa, ksi",
    )  # fmt: skip
    material: Text = key("material: a name of the catalogue or of a [[material]]", '"steel"', allowed="name")
    head: Text = key(
        "form of the head", '"hexagon"',
        allowed="hexagon, heavy hexagon, structural hexagon, flanged hexagon, socket cap, stud; other words together "
        "with d_w",
    )  # fmt: skip
    d_w: Length | None = key(
        "outside diameter of the bearing face under the head, when it is not that of the standard", '"33.6 mm"', None,
        allowed="length", unit=MM,
    )  # fmt: skip
    stiffness: Stiffness | None = key(
        "axial stiffness of the whole bolt; left out: found from its pieces as VDI 2230-1 does", '"900 kN/mm"', None,
        allowed="force/length", unit="kN/mm",
    )  # fmt: skip
    bending: BendingStiffness | None = key(
        "bending stiffness E I / l of the whole bolt; left out: found from its pieces", '"25000 N.m/rad"', None,
        allowed="torque/angle", unit="N.m/rad",
    )  # fmt: skip
    washer_thickness: Length | None = key(
        "thickness of the washer under head and nut; washers are part of the grip and widen the bearing face", '"4 mm"',
        None, allowed="length, together with washer_diameter", unit=MM,
    )  # fmt: skip
    washer_diameter: Length | None = key(
        "outside diameter of the washers", '"44 mm"', None, allowed="length, together with washer_thickness", unit=MM
    )
    basis: Text | None = key(BASIS, '"drawing KN-D-0114-07"', None, allowed="text")


class RingCounterpartTable(Table):
    kind: Annotated[str, choice(*COUNTERPARTS)] = key(
        "what the thread goes into: a nut, or a tapped hole in the second flange", '"nut"', choices=COUNTERPARTS
    )
    material: Text | None = key(
        "material of the nut; left out: that of the bolt", '"steel"', None, allowed="name; with a nut"
    )
    form: Text | None = key(
        "form of the nut", '"hexagon nut"', None, allowed="hexagon nut, heavy hexagon, structural hexagon; with a nut"
    )
    d_w: Length | None = key(
        "bearing face of the nut, when it is not that of the standard", '"33.2 mm"', None,
        allowed="length; with a nut", unit=MM,
    )  # fmt: skip
    engagement: Length | None = key(
        "length of thread engaged", '"30 mm"', None, allowed="length; with a tapped hole", unit=MM
    )
    counterbore: LengthOrZero = key(
        "from the contact face to the first engaged thread", '"5 mm"', 0.0,
        allowed="length or 0 mm; with a tapped hole", unit=MM,
    )  # fmt: skip


class FacingTable(Table):
    law: Annotated[str, choice(*LAWS)] = key(
        "what lies between the flanges: a gasket with a loading curve, a layer of constant stiffness that also pulls, "
        "or nothing (the faces touch)", '"loading curve"', choices=LAWS,
    )  # fmt: skip
    inside_diameter: Diameter = key(
        "inside of the gasket, or of the faces that touch", '"340 mm"', allowed="length", unit=MM
    )
    outside_diameter: Diameter = key(
        "outside of the gasket, or of the faces that touch", '"410 mm"', allowed="length", unit=MM
    )
    thickness: Length | None = key(
        "thickness as delivered; part of the grip", '"3 mm"', None, allowed="length; not with metal to metal", unit=MM
    )
    curve: LoadingCurve | None = key(
        "loading curve: compression of the whole gasket and pressure, from nothing on",
        '[["0 mm", "0 MPa"], ["0.15 mm", "10 MPa"], ["0.4 mm", "60 MPa"]]', None,
        allowed="points that rise, the first 0 and 0; with law = loading curve", unit="mm and MPa",
    )  # fmt: skip
    unloading: StiffnessPerArea | None = key(
        "stiffness per area when the pressure falls again", '"800 MPa/mm"', None,
        allowed="stress/length, at least the steepest part of the curve; with law = loading curve", unit="MPa/mm",
    )  # fmt: skip
    stiffness: StiffnessPerArea | None = key(
        "stiffness per area of the layer, or of the touching faces", '"20000 MPa/mm"', None,
        allowed="stress/length; with law = linear or metal to metal", unit="MPa/mm",
    )  # fmt: skip
    basis: Text = key(
        'where law and numbers come from; of a contact stiffness without a source say "common practice, no source"',
        '"maker\'s sheet KN-M-031"', allowed="text",
    )  # fmt: skip


class RingTargetTable(Table):
    load: Force | None = key(
        "load wanted in each bolt", '"140 kN"', None, allowed="exactly one of load and torque", unit="kN, lbf"
    )
    torque: Torque | None = key(
        "torque wanted on each bolt; K gives the load", '"520 N.m"', None, allowed="exactly one of load and torque",
        unit="N.m, lbf.ft",
    )  # fmt: skip
    K: NutFactor | None = key(
        "nut factor, torque = K x load x d: mean of the lot", "0.16", None, allowed="0.02 to 1; needed with torque"
    )
    basis: Text | None = key(BASIS, '"KN-SPEC-0114 revision C, table 4"', None, allowed="text")


class RingLimitsTable(Table):
    bolt_load: Force | None = key(
        "load that no bolt may exceed in any state; left out: its proof load, or 90 % of the yield load where the "
        "standard gives no proof stress", '"200 kN"', None, allowed="force", unit="kN, lbf",
    )  # fmt: skip
    least_pressure: Stress | None = key(
        "least pressure that seats the gasket: mean over its width, at the end, at every place of the ring", '"20 MPa"',
        None, allowed="stress", unit="MPa",
    )  # fmt: skip
    largest_pressure: Stress | None = key(
        "pressure that no place of the gasket may exceed in any state", '"120 MPa"', None, allowed="stress", unit="MPa"
    )
    tilt: SmallAngle | None = key(
        "most that the two flanges may be out of parallel in any state", '"0.1 deg"', None, allowed="angle", unit="deg"
    )
    rotation: SmallAngle | None = key(
        "most that the two faces may be inclined to each other in the radial direction, in any state", '"0.5 deg"',
        None, allowed="angle", unit="deg",
    )  # fmt: skip
    basis: Text | None = key(BASIS, '"KN-SPEC-0114 revision C, annex 2"', None, allowed="text")


class RingProcedureTable(Table):
    name: Text = key("name of the procedure, each once", '"star, one circular pass"', allowed="text")
    order: Annotated[str, choice(*ORDERS)] | None = key(
        "order of the pulls in each pass; not with steps", '"star"', None, choices=ORDERS
    )
    passes: Shares | None = key(
        "share of the target in each pass", "[0.3, 0.7, 1.0]", None,
        allowed="shares that do not fall; not with settings or steps",
    )  # fmt: skip
    circular_passes: Annotated[int, whole_within(0, 20, "circular passes are not what is done")] = key(
        "passes round the ring at 100 % after the last", "1", 0, allowed="0 to 20"
    )
    tools_at_once: Annotated[int, whole_within(1, 50, "tools cannot work on one ring at once")] = key(
        "tools that pull at the same time", "1", 1, allowed="1 to 50, not more than bolts"
    )
    groups: Groups | None = key(
        "with order grouped: the groups in their sequence; left out: neighbours", "[[1, 2], [9, 10]]", None,
        allowed="lists that hold each bolt once",
    )  # fmt: skip
    listed: Numbers | None = key(
        "with order listed: the sequence", "[1, 9, 5, 13]", None, allowed="each bolt once"
    )
    settings: Settings | None = key(
        "a setting of its own for each bolt: for each pass the shares of bolt 1, 2, 3 ...", "[[1.2, 1.1, 1.0, 0.9]]",
        None, allowed="a list for each pass with a share for each bolt; instead of passes",
    )  # fmt: skip
    steps: StepList | None = key(
        "every step itself: the bolts pulled together and their share of the target", "[[[1, 9], 0.5], [[5, 13], 0.5]]",
        None, allowed="lists of bolts with a share; instead of order and passes",
    )  # fmt: skip


class ScatterTable(Table):
    K_lot: Spread = key(
        "coefficient of variation of K from lot to lot: moves all loads of an assembly together", '"3 %"', 0.0,
        allowed="share",
    )  # fmt: skip
    K_nut: Spread = key(
        "coefficient of variation of K from nut to nut, which each nut keeps in all its pulls", '"6 %"', allowed="share"
    )
    K_pull: Spread = key(
        "coefficient of variation of K from pull to pull of the same nut", '"3 %"', 0.0, allowed="share"
    )
    K_exponent: Annotated[float, number_within(0.0, 0.9, "an exponent this can be")] = key(
        "how K falls with the load: K = K_target (F / F_target)^-exponent", "0.05", 0.0, allowed="0 to 0.9"
    )
    static_excess: Annotated[float, share(0.9)] = key(
        "by which share a standing nut needs more torque than a turning one; left out: a value found on measured "
        "anchor rods, one kind of part", "0.25", STATIC_EXCESS, allowed="share",
    )  # fmt: skip
    reuse: Annotated[float, number_within(0.5, 3.0, "a factor this can be")] = key(
        "factor on K for each earlier use of nut and bolt", "1.1", 1.0, allowed="0.5 to 3; 1: none"
    )
    uses: Annotated[int, whole_within(0, 50, "earlier uses are not what is done")] = key(
        "earlier uses of nut and bolt", "1", 0, allowed="0 to 50"
    )
    tool_own: Spread = key(
        "standard deviation of a tool's constant error, share of its setting", '"1 %"', 0.0, allowed="share"
    )
    tool_pull: Spread = key(
        "standard deviation of a tool from pull to pull, share of its setting", '"2 %"', 0.0, allowed="share"
    )
    creep: CreepRate | None = key(
        "thinning of the gasket per pressure in each decade of time", '"0.3 um/MPa"', None,
        allowed="length/stress; not together with residual", unit="um/MPa",
    )  # fmt: skip
    residual: Annotated[float, share(0.999, zero=False)] | None = key(
        "instead of creep: share of its pressure that the gasket keeps for 4 h in a relaxation test (P_QR of EN 13555, "
        "from memory)", '"85 %"', None, allowed="share, together with rig",
    )  # fmt: skip
    rig: StiffnessPerArea | None = key(
        "stiffness of the rig of that test over the area of the gasket", '"500 MPa/mm"', None,
        allowed="stress/length, together with residual", unit="MPa/mm",
    )  # fmt: skip
    creep_time: Duration = key("time from which the decades of creep count", '"60 s"', 60.0, allowed="s, min, h, d")
    between_pulls: Duration | None = key("time between two pulls", '"40 s"', None, allowed="s, min, h, d")
    between_passes: Duration | None = key("time between two passes", '"10 min"', None, allowed="s, min, h, d")
    wait: Duration | None = key(
        "time after the last pull at which the loads are asked", '"4 h"', None, allowed="s, min, h, d"
    )
    probability: Annotated[float, number_within(0.5, 0.99, "a probability this can be")] = key(
        "probability that the interval of a bolt's load holds", "0.9", 0.9, allowed="0.5 to 0.99"
    )
    assemblies: Annotated[int, whole_within(400, 20_000, "assemblies are not what is computed here")] = key(
        "assemblies drawn", "1000", 1000, allowed="400 to 20000"
    )
    seed: Annotated[int, whole_within(0, 2**31 - 1, "is not a seed")] = key(
        "seed of the draws: the same seed gives the same numbers", "1", 1, allowed="0 to 2147483647"
    )
    basis: Text = key("on what these values rest", '"test KN-T-031 of lot KL-7731"', allowed="text")


class EvennessTable(Table):
    least: TargetShare = key("least load of any bolt that is wanted, share of the target", "0.9", allowed="share")
    spread: Annotated[float, share(1.0, zero=False)] = key(
        "most spread that is wanted: largest less least load over the target", '"15 %"', allowed="share"
    )


class RingFile(Table):
    form: Annotated[str, choice(RING_FORM)] = key("mark of the file", f'"{RING_FORM}"', choices=(RING_FORM,))
    ring: RingTable
    flange: RingFlangeTable
    second_flange: RingFlangeTable | None = None
    bolt: RingBoltTable
    section: Annotated[tuple[SectionTable, ...], Field(max_length=20)] = ()
    counterpart: RingCounterpartTable
    facing: FacingTable
    material: Annotated[tuple[MaterialTable, ...], Field(max_length=30)] = ()
    target: RingTargetTable
    limits: RingLimitsTable = RingLimitsTable.model_construct()
    evenness: EvennessTable | None = None
    procedure: Annotated[tuple[RingProcedureTable, ...], Field(min_length=1, max_length=MOST_PROCEDURES)]
    scatter: ScatterTable | None = None
