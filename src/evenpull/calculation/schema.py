"""The schema of a calculation file: one joint as it is drawn, loaded and tightened, and the rule sets to apply.

The texts beside each key are the one source for the help on the page, the documentation and the commented template.
Keys carry the symbols of the trade; what is left out is "not stated".
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from evenpull.calculation.values import (
    Angle,
    AngleOrZero,
    Area,
    AreaOrZero,
    Drag,
    Expansion,
    Force,
    ForceOrZero,
    Length,
    LengthOrZero,
    Modulus,
    SecondMoment,
    SignedForce,
    SignedLength,
    SmallLength,
    Stiffness,
    Stress,
    StressOrZero,
    Temperature,
    Torque,
    TorqueOrZero,
    share,
    words,
)
from evenpull.joint.case import METHODS
from evenpull.plan.keys import YES_NO, Table, key
from evenpull.plan.schema import COUNTERPARTS, JointId
from evenpull.plan.values import BandValue, Flag, Note, Text, choice, number_within, whole_within

CALCULATION_FORM = "evenpull calculation 1"
ROUGHNESS = ("<10", "10-<40", "40-<160")
FACES = ("both normal", "one sloped", "both sloped")
HOLES = ("normal", "oversize", "short slot across", "short slot along", "long slot across", "long slot along")
STRUCTURAL_METHODS = ("torque", "combined", "turn of nut")
K_CLASSES = ("K0", "K1", "K2")

Ratio = Annotated[float, number_within(0.01, 2.0, "a ratio this can be")]
Factor = Annotated[float, number_within(0.5, 20.0, "a factor this can be")]
Share = Annotated[float, share(0.95)]
Friction = Annotated[float, number_within(0.01, 1.5, "a coefficient of friction this can be")]
BASIS = "where the values of this table come from: document, revision, place"




class CalculationTable(Table):
    id: JointId = key("name of the calculation", '"KN-CW-014-C1"', allowed="3 to 40 letters, digits, . _ -")
    name: Text = key("what is calculated, in words", '"Pump discharge flange, first check"', allowed="text")
    rules: Annotated[tuple[str, ...], words()] = key(
        "rule sets to apply, each by itself", '["vdi2230", "shigley"]', allowed="keys of the rule sets")
    joint: JointId | None = key("joint of the dossier that this is about", '"KN-CW-014"', None,
                                allowed="id of a joint")
    revision: Text = key("revision of this calculation", '"A"', allowed="text")
    basis: Text = key("document that the inputs come from, unless a table says otherwise",
                      '"KN-SPEC-0114 revision C"', allowed="text")
    notes: Note | None = key("assumptions and remarks, printed on the sheet", '"Gasket taken as a spring."', None,
                             allowed="text")


class BoltTable(Table):
    thread: Text = key("thread by its standard name", '"M24"', allowed="M16, M16x1.5, 3/4-10 UNC, 1-8 UNC, 1 1/4-8 UN")
    strength_class: Text | None = key("property class or grade; left out when strengths are stated", '"8.8"', None,
                                      allowed="4.6 to 12.9, A2-70, A4-80, SAE J429 grade 5 ...", alias="class")
    R_m: Stress | None = key("tensile strength, lowest; with R_p02 instead of a class", '"830 MPa"', None,
                             allowed="stress", unit="MPa, ksi")
    R_p02: Stress | None = key("yield strength, lowest; with R_m instead of a class", '"660 MPa"', None,
                               allowed="stress", unit="MPa, ksi")
    S_p: Stress | None = key("proof stress, where the standard of the bolt gives one", '"600 MPa"', None,
                             allowed="stress; goes with R_m and R_p02", unit="MPa, ksi")
    material: Text = key("material: a name of the catalogue or of a [[material]] of this file", '"steel"',
                         allowed="name")
    head: Text = key("form of the head", '"hexagon"', allowed="hexagon, heavy hexagon, structural hexagon, flanged "
                     "hexagon, socket cap, stud; other words together with d_w")
    d_w: Length | None = key("outside diameter of the bearing face under the head, when it is not that of the standard",
                             '"33.6 mm"', None, allowed="length", unit="mm, in")
    length: Length | None = key("underside of the head to the end", '"110 mm"', None, allowed="length", unit="mm, in")
    d_i: LengthOrZero = key("bore of a hollow bolt through its thread", '"0 mm"', 0.0, allowed="length or 0 mm",
                            unit="mm, in")
    basis: Text | None = key(BASIS, '"drawing KN-D-0114"', None, allowed="text")


class SectionTable(Table):
    length: Length = key("length of a piece without thread inside the grip, from the head", '"36 mm"',
                         allowed="length", unit="mm, in")
    d: Length = key("its outside diameter: shank or neck", '"24 mm"', allowed="length", unit="mm, in")
    d_i: LengthOrZero = key("its bore", '"0 mm"', 0.0, allowed="length or 0 mm", unit="mm, in")


class CounterpartTable(Table):
    kind: Annotated[str, choice(*COUNTERPARTS)] = key("what the thread goes into", '"nut"', choices=COUNTERPARTS)
    material: Text = key("material of the nut or of the part with the tapped hole", '"steel"', allowed="name")
    form: Text | None = key("form of the nut", '"hexagon nut"', None, allowed="hexagon nut, heavy hexagon, structural "
                            "hexagon; with a nut")
    d_w: Length | None = key("bearing face of the nut, when it is not that of the standard", '"33.2 mm"', None,
                             allowed="length; with a nut", unit="mm, in")
    nut_class: Text | None = key("property class of the nut: gives its proof stress", '"8"', None,
                                 allowed="5, 6, 8, 10, 12, A2-70 ...; with a metric nut", alias="class")
    nut_proof_stress: Stress | None = key("proof stress of the nut where no class is named", '"880 MPa"', None,
                                          allowed="stress; with a nut", unit="MPa, ksi")
    engagement: Length | None = key("length of thread engaged", '"20 mm"', None, allowed="length", unit="mm, in")
    basis: Text | None = key(BASIS, '"drawing KN-D-0114"', None, allowed="text")


class LayerTable(Table):
    part: Text = key("clamped part, in order from the head; washers are parts", '"flange"', allowed="text")
    thickness: Length = key("its thickness", '"30 mm"', allowed="length", unit="mm, in")
    material: Text = key("its material", '"steel"', allowed="a name of the catalogue or of a [[material]]")
    hole: Text = key("clearance hole: series of ISO 273 (metric threads) or diameter", '"medium"',
                     allowed="fine, medium, coarse or a diameter such as 26 mm", unit="mm, in")
    D_A: Length | None = key("outside diameter of the part, or smallest width of the contact face; left out: wider "
                             "than the deformation cone", '"60 mm"', None, allowed="length", unit="mm, in")
    washer: Flag = key("the part is a washer", "false", False, choices=YES_NO)
    slot_length: Length | None = key("slotted hole: overall length of the slot", '"40 mm"', None, allowed="length",
                                     unit="mm, in")
    chamfer: Length | None = key("diameter of a countersink or chamfer at the bearing face", '"28 mm"', None,
                                 allowed="length, more than the hole", unit="mm, in")


class MaterialTable(Table):
    name: Text = key("name under which this file uses the material", '"fibre sheet"', allowed="text")
    E: Modulus | None = key("modulus of elasticity", '"5 GPa"', None, allowed="stress", unit="GPa, MPa")
    alpha: Expansion | None = key("coefficient of thermal expansion", '"11.5e-6 1/K"', None, allowed="number 1/K")
    R_m: Stress | None = key("tensile strength, lowest", '"500 MPa"', None, allowed="stress", unit="MPa, ksi")
    R_p02: Stress | None = key("yield strength, lowest", '"300 MPa"', None, allowed="stress", unit="MPa, ksi")
    p_G: Stress | None = key("limiting surface pressure", '"490 MPa"', None, allowed="stress", unit="MPa")
    tau_B: Stress | None = key("shear strength", '"300 MPa"', None, allowed="stress", unit="MPa, ksi")
    basis: Text = key("where the values come from", '"data sheet KN-M-07"', allowed="text")


class GasketTable(Table):
    stiffness: Stiffness | None = key("stiffness of one bolt's share", '"900 kN/mm"', None,
                                      allowed="force/length; or thickness, E and area")
    thickness: Length | None = key("thickness", '"3 mm"', None, allowed="length", unit="mm, in")
    E: Modulus | None = key("modulus on unloading", '"1 GPa"', None, allowed="stress", unit="MPa, GPa")
    area: Area | None = key("area of one bolt's share", '"2800 mm2"', None, allowed="area", unit="mm2")
    relaxation: Share = key("share of the load lost by creep of the gasket", '"10 %"', 0.0, allowed="share")
    basis: Text = key("where the values come from", '"maker\'s sheet"', allowed="text")


class FrictionTable(Table):
    lubricant: Text | None = key("lubricant of the catalogue, or any text when mu_G, mu_K and basis are stated",
                                 '"molybdenum disulfide paste"', None, allowed="name of the catalogue, or text")
    mu_G: BandValue | None = key("coefficient of friction in the thread: least, nominal, most", "[0.10, 0.12, 0.14]",
                                 None, allowed="three rising numbers")
    mu_K: BandValue | None = key("coefficient of friction under the turned face", "[0.10, 0.12, 0.14]", None,
                                 allowed="three rising numbers")
    K: BandValue | None = key("nut factor where stated or tested", "[0.14, 0.16, 0.18]", None,
                              allowed="three rising numbers")
    basis: Text | None = key("on what stated values rest", '"test KN-T-031, method of ISO 16047"', None,
                             allowed="text; needed when values are stated")


class TighteningTable(Table):
    method: Annotated[str, choice(*METHODS)] = key("how the load is put in", '"torque"', "torque", choices=METHODS)
    alpha_A: Annotated[float, number_within(1.0, 6.0, "a tightening factor this can be")] | None = key(
        "tightening factor: largest over least preload", "1.6", None, allowed="1 to 6")
    tool_scatter: Annotated[float, share(0.5)] = key(
        "scatter of the tool, up and down: share of the torque (of the load with method tension)", '"5 %"', 0.0,
        allowed="share")
    torque: Torque | None = key("torque wished, without drag", '"520 N.m"', None, allowed="torque", unit="N.m, lbf.ft")
    preload: Force | None = key("preload wished", '"140 kN"', None, allowed="force", unit="kN, lbf")
    prevailing: Drag | None = key("drag of a self-locking nut", '"12 N.m"', None,
                                  allowed="torque, or a band of three", unit="N.m, lbf.in")
    snug_torque: TorqueOrZero | None = key("torque at which the angle begins to count", '"80 N.m"', None,
                                           allowed="torque", unit="N.m, lbf.ft")
    angle: Angle | None = key("angle from snug", '"60 deg"', None, allowed="angle", unit="deg")
    angle_scatter: AngleOrZero = key("scatter of the angle, up and down", '"5 deg"', 0.0, allowed="angle", unit="deg")
    transfer_loss: Share | None = key("share of the tensioner's load lost when the nut takes over", '"12 %"', None,
                                      allowed="share")
    reused: Flag = key("the joint is taken apart again and the bolts used anew", "false", False, choices=YES_NO)
    elastic_interaction: Share = key("share of the load lost to neighbours pulled later", '"10 %"', 0.0,
                                     allowed="share")
    basis: Text | None = key(BASIS, '"KN-SPEC-0114 revision C, table 4"', None, allowed="text")


class LoadsTable(Table):
    F_A_max: SignedForce = key("largest axial working load of one bolt", '"25 kN"', 0.0, allowed="force, either sign",
                               unit="kN, lbf")
    F_A_min: SignedForce = key("least axial working load of one bolt", '"0 kN"', 0.0, allowed="force, either sign",
                               unit="kN, lbf")
    F_Q: ForceOrZero = key("transverse load of one bolt", '"8 kN"', 0.0, allowed="force", unit="kN, lbf")
    M_Y: TorqueOrZero = key("torque about the bolt axis", '"0 N.m"', 0.0, allowed="torque", unit="N.m")
    q_F: Annotated[int, whole_within(1, 50, "interfaces are not what a joint can have here")] = key(
        "interfaces that carry F_Q", "1", 1, allowed="1 to 50")
    q_M: Annotated[int, whole_within(1, 50, "interfaces are not what a joint can have here")] = key(
        "interfaces that carry M_Y", "1", 1, allowed="1 to 50")
    r_a: Length | None = key("friction radius for M_Y", '"20 mm"', None, allowed="length", unit="mm")
    mu_T: Friction | None = key("lowest friction between the clamped parts", "0.15", None, allowed="0.01 to 1.5")
    sealing_pressure: StressOrZero = key("pressure to be sealed", '"16 bar"', 0.0, allowed="stress", unit="MPa, bar")
    sealing_area: AreaOrZero = key("area to be sealed, one bolt's share", '"9000 mm2"', 0.0, allowed="area", unit="mm2")
    F_Kerf: ForceOrZero | None = key("clamp load required, where stated; else found from the keys above", '"60 kN"',
                                     None, allowed="force", unit="kN, lbf")
    n: Annotated[float, number_within(0.01, 1.0, "a load introduction factor this can be")] = key(
        "load introduction factor", "0.5", 1.0, allowed="0.01 to 1")
    cycles: Annotated[float, number_within(1.0, 1e12, "a number of cycles this can be")] | None = key(
        "load cycles in the life of the joint", "2e6", None, allowed="1 to 1e12")
    bearing_shear: Flag = key("F_Q is carried by the shank in bearing and shear", "false", False, choices=YES_NO)
    basis: Text | None = key(BASIS, '"load sheet KN-L-22"', None, allowed="text")


class ServiceTable(Table):
    T_assembly: Temperature = key("temperature at assembly", '"20 degC"', 20.0, allowed="temperature", unit="degC")
    T_S: Temperature = key("bolt in service", '"90 degC"', 20.0, allowed="temperature", unit="degC, degF")
    T_P: Temperature = key("clamped parts in service", '"110 degC"', 20.0, allowed="temperature", unit="degC, degF")
    E_S_ratio: Ratio | None = key("modulus of the bolt at temperature over that at room temperature", "0.97", None,
                                  allowed="0.01 to 2")
    E_P_ratio: Ratio | None = key("the same for the clamped parts", "0.96", None, allowed="0.01 to 2")
    R_p02_ratio: Ratio | None = key("yield strength of the bolt at temperature over that at room temperature", "0.92",
                                    None, allowed="0.01 to 2")
    relaxation: Share = key("share of the preload lost in service by creep of bolt and parts", '"3 %"', 0.0,
                            allowed="share")
    basis: Text | None = key(BASIS, '"heat balance KN-H-03"', None, allowed="text")


class EmbeddingTable(Table):
    f_Z: SmallLength | None = key("embedding of the whole joint where stated; else guide values", '"12 um"', None,
                                  allowed="length", unit="um, mm")
    Rz: Annotated[str, choice(*ROUGHNESS)] | None = key("roughness Rz in micrometres, for the guide values",
                                                        '"10-<40"', None, choices=ROUGHNESS)
    loading: Annotated[str, choice("axial", "shear")] = key("loading, for the guide values", '"axial"', "axial",
                                                            choices=("axial", "shear"))
    inner_interfaces: Annotated[int, whole_within(0, 50, "interfaces are not what a joint can have here")] | None = key(
        "interfaces between the clamped parts; left out: parts less one", "2", None, allowed="0 to 50")
    basis: Text | None = key(BASIS, '"measured on KN-T-040"', None, allowed="text")


class EccentricityTable(Table):
    s_sym: SignedLength = key("from the centre of the clamped section to the bolt axis", '"4 mm"', allowed="length",
                              unit="mm")
    a: SignedLength = key("from that centre to the line of the working load", '"25 mm"', allowed="length", unit="mm")
    I_Bers: SecondMoment = key("substitutional moment of gyration of the clamped parts", '"180000 mm4"',
                               allowed="length to the fourth", unit="mm4")
    I_BT: SecondMoment = key("second moment of area of the interface", '"200000 mm4"', allowed="length to the fourth",
                             unit="mm4")
    A_D: Area = key("sealing area of the interface", '"1600 mm2"', allowed="area", unit="mm2")
    u: Length = key("from the centre to the edge that opens first", '"20 mm"', allowed="length", unit="mm")
    basis: Text | None = key(BASIS, '"drawing KN-D-0114"', None, allowed="text")


class StructuralTable(Table):
    bolt: Text | None = key("structural bolt as its standard names it; left out: the class of the bolt", '"A325"', None,
                            allowed="A325, A490, A325M, 8.8, 10.9 ...")
    edition: Text | None = key("edition of the rules, where they differ", '"2014"', None, allowed="text")
    faces: Annotated[str, choice(*FACES)] = key("outer faces against the bolt axis", '"both normal"', "both normal",
                                                choices=FACES)
    k_class: Annotated[str, choice(*K_CLASSES)] | None = key("class of the assemblies by their tested nut factor",
                                                             '"K2"', None, choices=K_CLASSES)
    k_m: Annotated[float, number_within(0.05, 0.5, "a mean k this can be")] | None = key(
        "mean k of the lot", "0.13", None, allowed="0.05 to 0.5")
    V_k: Annotated[float, number_within(0.0, 0.5, "a coefficient of variation this can be")] | None = key(
        "coefficient of variation of k", "0.05", None, allowed="0 to 0.5")
    method: Annotated[str, choice(*STRUCTURAL_METHODS)] = key("method of tightening", '"torque"', "torque",
                                                              choices=STRUCTURAL_METHODS)
    hole: Annotated[str, choice(*HOLES)] = key("kind of hole; slots lie across or along the load", '"normal"', "normal",
                                               choices=HOLES)
    gamma_M3: Factor | None = key("partial factor for slip; left out: the recommended value", "1.25", None,
                                  allowed="0.5 to 20")
    basis: Text | None = key(BASIS, '"KN-SPEC-0203"', None, allowed="text")


class SpaceTable(Table):
    Gamma: Annotated[float, share(0.9, zero=False)] = key("preload uncertainty", "0.25", allowed="share")
    c_min: Factor = key("factor on the least torque", "1.0", 1.0, allowed="0.5 to 20")
    c_max: Factor = key("factor on the largest torque", "1.0", 1.0, allowed="0.5 to 20")
    separation_critical: Flag = key("parting of the joint is critical", "true", True, choices=YES_NO)
    n_f: Annotated[int, whole_within(1, 2000, "fasteners are not what a joint can have here")] = key(
        "fasteners in the joint", "8", 1, allowed="1 to 2000")
    creep: ForceOrZero = key("loss by creep", '"0 kN"', 0.0, allowed="force", unit="kN, lbf")
    relaxation: Share = key("loss by relaxation, share of the least preload at assembly", '"5 %"', 0.05,
                            allowed="share")
    dP_thermal_max: ForceOrZero = key("largest increase by temperature", '"1 kN"', 0.0, allowed="force", unit="kN, lbf")
    dP_thermal_min: ForceOrZero = key("largest loss by temperature", '"1 kN"', 0.0, allowed="force", unit="kN, lbf")
    FF: Factor | None = key("fitting factor on the limit load", "1.15", None, allowed="0.5 to 20")
    FS_u: Factor | None = key("factor of safety of the project, ultimate strength", "1.4", None, allowed="0.5 to 20")
    FS_y: Factor | None = key("the same, yield strength", "1.25", None, allowed="0.5 to 20")
    FS_sep: Factor | None = key("the same, separation", "1.2", None, allowed="0.5 to 20")
    basis: Text | None = key(BASIS, '"KN-SPEC-0114"', None, allowed="text")


class FlangeTable(Table):
    bolts: Annotated[int, whole_within(1, 500, "bolts are not what a flange can have here")] | None = key(
        "bolts of the flange", "16", None, allowed="1 to 500")
    target_stress: Stress | None = key("bolt stress aimed at, on the root area", '"345 MPa"', None, allowed="stress",
                                       unit="MPa, ksi")
    coated: Flag = key("bolts with a low-friction coating", "false", False, choices=YES_NO)
    S_b_max: Stress | None = key("most bolt stress", '"480 MPa"', None, allowed="stress", unit="MPa, ksi")
    S_b_min: Stress | None = key("least bolt stress", '"140 MPa"', None, allowed="stress", unit="MPa, ksi")
    S_f_max: Stress | None = key("bolt stress at the limit of the flange", '"450 MPa"', None, allowed="stress",
                                 unit="MPa, ksi")
    gasket_area: Area | None = key("area of the whole gasket", '"42000 mm2"', None, allowed="area", unit="mm2")
    S_g_seat: Stress | None = key("least gasket stress at assembly", '"60 MPa"', None, allowed="stress", unit="MPa")
    S_g_op: Stress | None = key("least gasket stress in operation", '"30 MPa"', None, allowed="stress", unit="MPa")
    S_g_max: Stress | None = key("most gasket stress", '"200 MPa"', None, allowed="stress", unit="MPa")
    S_g_target: Stress | None = key("gasket stress aimed at, when the bolt stress follows from it", '"100 MPa"', None,
                                    allowed="stress", unit="MPa")
    rotation_f_max: Angle | None = key("rotation of the flange at S_f_max", '"0.3 deg"', None, allowed="angle",
                                       unit="deg")
    rotation_g_max: Angle | None = key("most rotation that the gasket stands", '"0.5 deg"', None, allowed="angle",
                                       unit="deg")
    pressure_area: Area | None = key("area on which the pressure acts", '"70000 mm2"', None, allowed="area", unit="mm2")
    p_max: StressOrZero | None = key("largest internal pressure", '"16 bar"', None, allowed="stress", unit="MPa, bar")
    relaxation_share: Annotated[float, share(1.0, zero=False)] | None = key(
        "share of the assembly load that remains", "0.7", None, allowed="share")
    basis: Text | None = key(BASIS, '"KN-SPEC-0114"', None, allowed="text")


class AviationTable(Table):
    nut: Annotated[str, choice("tension", "shear")] = key("kind of nut", '"tension"', choices=("tension", "shear"))
    drag: TorqueOrZero | None = key("drag measured on the run-down nut", '"3 N.m"', None, allowed="torque",
                                    unit="N.m, lbf.in")
    castellated: Flag = key("castellated nut with split pin", "false", False, choices=YES_NO)
    oil_free_cadmium: Flag = key("oil-free cadmium-plated threads, for which the table holds", "false", False,
                                 choices=YES_NO)
    basis: Text | None = key(BASIS, '"KN-SPEC-0114"', None, allowed="text")


class LimitsTable(Table):
    nu: Annotated[float, number_within(0.05, 1.0, "a utilisation this can be")] = key(
        "utilisation of the yield strength at assembly", "0.9", 0.9, allowed="0.05 to 1")
    S_F: Factor = key("demand on yielding in service", "1.0", 1.0, allowed="0.5 to 20")
    S_D: Factor = key("demand on fatigue", "1.2", 1.2, allowed="0.5 to 20")
    S_G: Factor = key("demand on slip", "1.2", 1.2, allowed="0.5 to 20")
    S_P: Factor = key("demand on surface pressure", "1.0", 1.0, allowed="0.5 to 20")
    S_A: Factor = key("demand on shear", "1.1", 1.1, allowed="0.5 to 20")
    S_e: Stress | None = key("endurance strength of the textbook, where it is not that of its table", '"129 MPa"', None,
                             allowed="stress", unit="MPa, ksi")
    n_d: Factor | None = key("factor asked of every demand of the textbook", "1.2", None, allowed="0.5 to 20")
    required_preload: Force | None = key("least load each fastener must keep", '"95 kN"', None, allowed="force",
                                         unit="kN, lbf")
    largest_preload: Force | None = key("load that no fastener may pass", '"210 kN"', None, allowed="force",
                                        unit="kN, lbf")
    basis: Text | None = key(BASIS, '"KN-SPEC-0114"', None, allowed="text")


class CalculationFile(Table):
    form: Annotated[str, choice(CALCULATION_FORM)] = key("mark of the file", f'"{CALCULATION_FORM}"',
                                                         choices=(CALCULATION_FORM,))
    calculation: CalculationTable
    bolt: BoltTable
    section: Annotated[tuple[SectionTable, ...], Field(max_length=20)] = ()
    counterpart: CounterpartTable
    layer: Annotated[tuple[LayerTable, ...], Field(min_length=1, max_length=30)]
    material: Annotated[tuple[MaterialTable, ...], Field(max_length=30)] = ()
    gasket: GasketTable | None = None
    friction: FrictionTable
    tightening: TighteningTable = TighteningTable.model_construct()
    loads: LoadsTable = LoadsTable.model_construct()
    service: ServiceTable = ServiceTable.model_construct()
    embedding: EmbeddingTable = EmbeddingTable.model_construct()
    eccentricity: EccentricityTable | None = None
    limits: LimitsTable = LimitsTable.model_construct()
    structural: StructuralTable | None = None
    space: SpaceTable | None = None
    flange: FlangeTable | None = None
    aviation: AviationTable | None = None
