"""One joint as it is drawn, loaded and tightened: the common input of all rule sets. SI throughout.

A rule set takes what it needs, says what it lacks (`CaseError`) and lists what it leaves unused; none of them guesses.
`None` always means "not stated".
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from evenpull.joint.target import Strength, ThreadSize
from evenpull.joint.traced import Band

AMBIENT = 20.0  # degC, to which room-temperature strengths and moduli belong


class CaseError(ValueError):
    """A case that cannot be computed; the message names the field and what is allowed."""


@dataclass(frozen=True, slots=True)
class Material:
    """Room-temperature values, Pa and 1/K; None where the source gives none (never invented)."""

    name: str
    E: float | None
    alpha: float | None  # coefficient of thermal expansion
    R_m: float | None = None  # tensile strength, lowest
    R_p02: float | None = None  # yield strength, lowest
    p_G: float | None = None  # limiting surface pressure
    tau_B: float | None = None  # shear strength
    source: str = "stated"
    status: str = "stated"


@dataclass(frozen=True, slots=True)
class Section:
    """A cylindrical piece of the bolt inside the grip, without thread: shank or neck. Lengths in m."""

    length: float
    d: float  # outside diameter
    d_i: float = 0.0  # bore of a hollow bolt


@dataclass(frozen=True, slots=True, kw_only=True)
class Bolt:
    """Sections stand in order from the head; what they leave of the grip is free thread."""

    thread: ThreadSize
    strength: Strength
    material: Material
    head: str  # "hexagon", "socket cap", "stud", ... as in the catalogue of bearing faces
    d_w: float  # outside diameter of the bearing face under the head
    sections: tuple[Section, ...] = ()
    d_i: float = 0.0  # bore through the threaded part
    length: float | None = None  # underside of head to end, where stated


@dataclass(frozen=True, slots=True, kw_only=True)
class Counterpart:
    """What the thread goes into: a nut, or a tapped hole in the last layer's material."""

    kind: Literal["nut", "tapped hole"]
    material: Material
    engagement: float | None = None  # length of thread engaged (nut height, depth of engagement)
    d_w: float | None = None  # bearing face of the nut; None with a tapped hole
    nut_proof_stress: float | None = None  # of the nut's class and size, Pa


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One clamped part, in order from the head. D_A is the diameter of the round part, or the smallest distance across
    the contact face; None: wider than the deformation cone.
    """

    name: str
    length: float
    material: Material
    d_h: float  # hole
    D_A: float | None = None
    washer: bool = False
    slot_length: float | None = None  # slotted hole: overall length of the slot; None for a round hole
    chamfer: float | None = None  # diameter of a countersink or chamfer at the bearing face, when larger than the hole


@dataclass(frozen=True, slots=True, kw_only=True)
class Gasket:
    """A gasket as a spring of one bolt's share: thickness and area give the stiffness, or it is stated."""

    stiffness: float | None = None  # N/m, per bolt
    thickness: float | None = None
    E: float | None = None  # Pa, on unloading
    area: float | None = None  # per bolt, m2
    relaxation: float = 0.0  # share of the load lost by creep of the gasket
    source: str = "stated"


@dataclass(frozen=True, slots=True, kw_only=True)
class Friction:
    mu_G: Band
    mu_K: Band
    K: Band | None = None  # nut factor where stated or tested; None: derived from mu_G and mu_K
    lubricant: str = ""
    source: str = "stated"
    status: str = "stated"


Method = Literal["torque", "torque and angle", "yield", "stretch", "tension"]
METHODS: tuple[Method, ...] = ("torque", "torque and angle", "yield", "stretch", "tension")


@dataclass(frozen=True, slots=True, kw_only=True)
class Tightening:
    """How the load is put in. `torque` or `preload` is the wish where one is stated; None: the rule set finds it."""

    method: Method = "torque"
    alpha_A: float | None = None  # tightening factor F_Mmax/F_Mmin
    tool_scatter: float = 0.0  # +- share of the torque (or of the load with method "tension")
    torque: float | None = None  # without drag
    preload: float | None = None
    prevailing: Band = field(default_factory=lambda: Band(0.0, 0.0, 0.0))  # drag of a self-locking nut, N.m
    snug_torque: float | None = None
    angle: float | None = None  # rad, from snug
    angle_scatter: float = 0.0  # +- rad
    transfer_loss: float | None = None  # share of the tensioner's load lost when it is handed to the nut
    reused: bool = False  # the joint is taken apart again and the bolt used anew
    source: str = "stated"


@dataclass(frozen=True, slots=True, kw_only=True)
class Eccentricity:
    """Lever arms in m from the centre of gravity of the clamped section: s_sym to the bolt axis, a to the line of load;
    I_B_ers and A_D of the contact area; u the distance to the edge that opens first. One-bolt beam model.
    """

    s_sym: float
    a: float
    I_Bers: float  # m4, substitutional moment of gyration of the clamped parts, without the hole
    I_BT: float  # m4, moment of inertia of the interface area
    A_D: float  # m2, sealing area
    u: float  # m, from the centre to the opening edge


@dataclass(frozen=True, slots=True, kw_only=True)
class Loads:
    """Working loads of one bolt (N, N.m) and what the clamp load has to do."""

    F_A_max: float = 0.0
    F_A_min: float = 0.0
    F_Q: float = 0.0  # transverse load to be carried by friction
    M_Y: float = 0.0  # torque about the bolt axis
    q_F: int = 1  # interfaces that carry F_Q
    q_M: int = 1
    r_a: float | None = None  # friction radius for M_Y
    mu_T: float | None = None  # lowest friction between the clamped parts
    sealing_pressure: float = 0.0  # Pa
    sealing_area: float = 0.0  # m2, per bolt
    F_Kerf: float | None = None  # required clamp load where stated; else found from the above
    n: float = 1.0  # load introduction factor
    cycles: float | None = None
    bearing_shear: bool = False  # F_Q is carried by the shank instead


@dataclass(frozen=True, slots=True, kw_only=True)
class Service:
    """Temperatures in degC of bolt and clamped parts; moduli and strength at temperature where known."""

    T_assembly: float = AMBIENT
    T_S: float = AMBIENT
    T_P: float = AMBIENT
    E_S_ratio: float | None = None  # modulus at temperature over that at room temperature; None: 1 at ambient only
    E_P_ratio: float | None = None
    R_p02_ratio: float | None = None  # yield strength at temperature over that at room temperature
    relaxation: float = 0.0  # share of the preload lost in service by creep of bolt and parts


@dataclass(frozen=True, slots=True, kw_only=True)
class Embedding:
    """Embedding f_Z (m) where stated; else from roughness, loading and the number of interfaces (guide values)."""

    f_Z: float | None = None
    Rz: Literal["<10", "10-<40", "40-<160"] | None = None  # micrometres
    loading: Literal["axial", "shear"] = "axial"
    inner_interfaces: int | None = None  # None: layers less one


@dataclass(frozen=True, slots=True, kw_only=True)
class StructuralInput:
    bolt: str = ""  # "A325", "A490", "A325M", ... or the EN class
    edition: str = ""  # where the editions differ
    faces: Literal["both normal", "one sloped", "both sloped"] = "both normal"
    k_class: Literal["K0", "K1", "K2"] | None = None
    k_m: float | None = None  # mean k of the lot (class K2)
    V_k: float | None = None  # coefficient of variation of k
    method: Literal["torque", "combined", "turn of nut"] = "torque"
    hole: Literal[
        "normal", "oversize", "short slot across", "short slot along", "long slot across", "long slot along"
    ] = "normal"  # slots: across or along the direction of the load
    gamma_M3: float | None = None  # partial factor for slip; None: the recommended value


@dataclass(frozen=True, slots=True, kw_only=True)
class SpaceInput:
    """NASA-STD-5020: preload uncertainty Gamma and the limits of torque."""

    Gamma: float
    c_min: float = 1.0
    c_max: float = 1.0
    separation_critical: bool = True
    n_f: int = 1  # fasteners in the joint
    creep: float = 0.0  # N
    relaxation: float = 0.05  # share of P_pi_min
    dP_thermal_max: float = 0.0  # N, increase
    dP_thermal_min: float = 0.0  # N, loss as a positive number
    FF: float | None = None  # fitting factor on the limit load
    FS_u: float | None = None  # factors of safety of the project: ultimate, yield, separation
    FS_y: float | None = None
    FS_sep: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FlangeInput:
    """ASME PCC-1 style: bolt stress on the root area, limits of the components where given (Pa, N)."""

    target_stress: float | None = None
    coated: bool = False
    S_b_max: float | None = None  # most for the bolt
    S_b_min: float | None = None  # least for the bolt
    S_f_max: float | None = None  # bolt stress at the flange's limit
    gasket_area: float | None = None  # whole gasket, m2
    S_g_seat: float | None = None  # least gasket stress at assembly
    S_g_op: float | None = None  # least gasket stress in operation
    S_g_max: float | None = None  # most gasket stress
    S_g_target: float | None = None  # gasket stress aimed at, where the bolt stress follows from it
    rotation_f_max: float | None = None  # flange rotation (rad) at S_f_max
    rotation_g_max: float | None = None  # largest rotation (rad) that the gasket stands
    pressure_area: float | None = None  # area on which the pressure acts, m2
    p_max: float | None = None  # largest internal pressure
    relaxation_share: float | None = None  # share of the assembly load that remains
    bolts: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AviationInput:
    nut: Literal["tension", "shear"]
    drag: float | None = None  # N.m, measured on the run-down nut
    castellated: bool = False
    oil_free_cadmium: bool = False  # the condition the table is valid for


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    nu: float = 0.9  # utilisation of the yield strength at assembly
    S_F: float = 1.0
    S_D: float = 1.2
    S_G: float = 1.2
    S_P: float = 1.0
    S_A: float = 1.1
    S_e: float | None = None  # endurance strength of the textbook, fully corrected, where it is stated, Pa
    n_d: float | None = None  # design factor wanted of load, yield, separation and fatigue
    required_preload: float | None = None
    largest_preload: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class JointCase:
    """`sources` says where single inputs come from, by dotted field name ("friction.mu_G")."""

    name: str
    bolt: Bolt
    counterpart: Counterpart
    layers: tuple[Layer, ...]
    friction: Friction
    tightening: Tightening = field(default_factory=Tightening)
    loads: Loads = field(default_factory=Loads)
    service: Service = field(default_factory=Service)
    embedding: Embedding = field(default_factory=Embedding)
    limits: Limits = field(default_factory=Limits)
    gasket: Gasket | None = None
    eccentricity: Eccentricity | None = None
    structural: StructuralInput | None = None
    space: SpaceInput | None = None
    flange: FlangeInput | None = None
    aviation: AviationInput | None = None
    elastic_interaction: float = 0.0  # share of the load lost to neighbours pulled later (ring model or test)
    sources: Mapping[str, str] = field(default_factory=dict)

    @property
    def l_K(self) -> float:
        """Clamped length in m: all layers, and the gasket."""
        gasket = 0.0 if self.gasket is None or self.gasket.thickness is None else self.gasket.thickness
        return sum(layer.length for layer in self.layers) + gasket

    @property
    def through_bolt(self) -> bool:
        return self.counterpart.kind == "nut"
