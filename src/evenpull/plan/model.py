"""What was asked: the specification of one joint, and the plan that follows from it.

Data flow: TOML text --read.py--> Specification --make_plan--> Plan (target, passes, pulls, settings).
All numbers are SI floats unless a field is a `Measured`, which carries the source text as well.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from evenpull.joint.target import Target
from evenpull.joint.traced import Band, Traced
from evenpull.quantities.measured import Measured

JOINT_KINDS = (
    "gasketed flange",
    "structural connection",
    "bolted ring",
    "bearing housing",
    "general assembly",
)
Order = Literal["star", "circular", "grouped", "listed"]
Method = Literal["torque", "torque and angle"]
Severity = Literal["stop", "warning", "note"]


@dataclass(frozen=True, slots=True)
class NotStated:
    """Stands where the source of a joint does not state a size. It prints as what it is and is never a number."""

    text: str = "not stated"

    def __str__(self) -> str:
        return self.text


NOT_STATED = NotStated()


@dataclass(frozen=True)
class SourceDocument:
    """By which document and revision the joint is specified, and since when."""

    document: str
    revision: str
    place: str
    approved_by: str
    in_force_from: date


@dataclass(frozen=True)
class SecondSource:
    """Another document that states a torque for the same joint; it has to agree."""

    document: str
    revision: str
    place: str
    torque: Measured


@dataclass(frozen=True)
class Fasteners:
    """The fasteners of the joint; all alike. `circle` and `grid` only place them on the map.

    `thread` "not stated": then the class is not stated either, and length, head, hole, engagement, washers and
    condition may be so.
    """

    count: int
    thread: str
    strength_class: str
    length: Measured | NotStated
    head: str
    counterpart: Literal["nut", "tapped hole"]
    nut_class: str
    tapped_material: str
    engagement: Measured | NotStated | None
    washer_under_head: bool | NotStated
    washer_under_nut: bool | NotStated
    hole: str  # series of ISO 273 ("fine", "medium", "coarse"), a diameter as written, or "not stated"
    turned: Literal["nut", "head"]
    condition: Literal["new", "used", "not stated"]
    lot: str
    circle: Measured | None
    grid: tuple[int, int] | None  # (rows, columns) for structural patterns
    bearing_face: Measured | None = None  # outside diameter of the face that slips, where no table has it

    @property
    def thread_stated(self) -> bool:
        return self.thread != NOT_STATED.text

    @property
    def size(self) -> str:
        """Thread and class as printed: "M24, class 8.8"."""
        return f"{self.thread}, class {self.strength_class}" if self.thread_stated else "thread and class not stated"

    @property
    def washers(self) -> str:
        """Under what there are washers, as printed: "under head and nut", "none", "not stated"."""
        under = (("head", self.washer_under_head), ("nut", self.washer_under_nut))
        there = [name for name, washer in under if washer is True]
        open_ = [name for name, washer in under if isinstance(washer, NotStated)]
        words = ([f"under {' and '.join(there)}"] if there else []) + [f"under {name} not stated" for name in open_]
        return ", ".join(words) or "none"


@dataclass(frozen=True)
class ClampedPart:
    part: str
    material: str
    thickness: Measured | NotStated


@dataclass(frozen=True)
class Friction:
    """Thread and bearing friction and nut factor as bands; each with the basis on which it rests.

    The bands are None where the friction is not stated; that goes with a thread that is not stated only.
    """

    lubricant: str
    mu_G: Band | None
    mu_K: Band | None
    K: Band | None
    K_given: bool  # the nut factor was stated itself; otherwise it is derived from mu_G and mu_K
    basis: str


@dataclass(frozen=True)
class TargetWish:
    """What the specification asks for. Exactly one of torque, preload, utilisation is set."""

    method: Method
    rule: Literal["friction", "nut factor", "not stated"]  # not stated: no load is computed
    torque: Measured | None
    preload: Measured | None
    utilisation: float | None  # of Rp0.2 in combined tension and torsion
    tolerance: float  # +- share of the torque that a record may deviate, e.g. 0.05
    required_preload: Measured | None  # the least load each fastener must keep
    utilisation_limit: float  # 0.9 unless stated
    prevailing_torque: Measured | None  # to be added to the target (drag)
    angle: Measured | None
    angle_window: tuple[Measured, Measured] | None


@dataclass(frozen=True)
class Procedure:
    order: Order
    passes: tuple[float, ...]  # percent of the target, rising, last is 100
    check_passes: int
    check_order: Order
    tools_at_once: int
    groups: tuple[tuple[int, ...], ...]  # order = "grouped": the groups, in sequence
    listed: tuple[int, ...]  # order = "listed"
    movement_limit: Measured | None  # check pass: a fastener that moves more is "moved"
    strict_passes: bool  # pass k complete on all before pass k+1 (EN 1090-2 type rule)
    strict_order: bool
    settings: tuple[tuple[float, ...], ...] = ()  # for each pass: percent by fastener, () where all get the same
    settings_limit: float = 100.0  # percent of the target, most of any setting

    def settings_of(self, number: int) -> tuple[float, ...]:
        """Percent of the target by fastener in a pass (from 1); () where all fasteners get the same."""
        return self.settings[number - 1] if number <= len(self.settings) else ()


@dataclass(frozen=True)
class PartRules:
    """What the parts of each fastener have to be and how they are proven. Everything left out is not asked."""

    single_use: tuple[str, ...] = ()  # parts that are never used again: "bolt", "nut", "washer", "gasket", ...
    most_uses: Mapping[str, int] = field(default_factory=dict, hash=False)  # part -> how many tightenings in its life
    lots_needed: tuple[str, ...] = ()  # parts whose lot has to be stated
    drag_window: tuple[Measured, Measured] | None = None  # run-down torque of each self-locking nut
    locking: str = ""  # locking device that has to be fitted on each fastener
    protrusion: tuple[float, float] | None = None  # threads beyond the nut, least and most
    witness_mark: bool = False  # a witness mark is made on each fastener
    stack: tuple[str, ...] = ()  # parts that each fastener consists of; their completeness has to be stated


@dataclass(frozen=True)
class GateRules:
    """What has to be met before the work, between the passes and before the release."""

    identity: bool = False  # two sources name the joint before the first loosening
    isolation: bool = False  # permit and zero energy stated before the first loosening
    independent_check: bool = False  # a second person, no operator of the joint, has seen it
    qualification: str = ""  # what each operator must be qualified for on the day
    test: str = ""  # leak or run test that has to be recorded with its result
    never_loosen: tuple[int, ...] = ()  # fasteners that hold pressure: never loosened while there is any


@dataclass(frozen=True)
class FollowUpRule:
    """Work after the tightening: due at the earliest of its triggers, with an early and a late window.

    Triggers are counted from `counted_from`. `early` and `late` are shares of the trigger (0.1 = 10 % of it).
    """

    name: str
    kind: Literal["dwell re-tightening", "start-up check", "re-tighten after service", "inspection",
                  "delayed-fracture inspection", "review"]
    counted_from: Literal["tightening", "start-up", "release"] = "tightening"
    days: float | None = None  # calendar; 4 h are 4/24
    hours: float | None = None  # running hours
    distance: float | None = None  # m
    cycles: float | None = None
    early: float = 0.0
    late: float = 0.0
    before: Literal["", "pressure", "service"] = ""  # has to be done before this happens, whatever the triggers say
    owner: str = ""
    source: str = ""  # where the rule comes from


@dataclass(frozen=True)
class Keeping:
    """How long the records are kept at least. Nothing is ever deleted by the program."""

    retention: str = ""  # name of the class, e.g. "life of the asset"
    years: float | None = None  # after the release; None: no end


@dataclass(frozen=True)
class Series:
    """The same joint on many units: each record names its unit and each unit needs every fastener."""

    unit_name: str  # what a unit is called, e.g. "workpiece"


@dataclass(frozen=True, slots=True)
class PressureScale:
    """The gauge on which a hydraulic tool is set: torque per pressure in m3, unit of the gauge, its scale and smallest
    step in Pa."""

    torque_per_pressure: float
    unit: str
    lower: float
    upper: float
    resolution: float


@dataclass(frozen=True)
class Tool:
    """One tool of the register with its certificate, as far as a setting and a record need it. Where `pressure` is
    stated that is what is dialled; scale and resolution then are the torques that the pressures give."""

    serial: str
    name: str
    kind: Literal["setting", "indicating", "powered", "hydraulic"]
    unit: str
    lower: Measured
    upper: Measured
    resolution: Measured
    uncertainty: float  # expanded (k = 2), share of reading
    certificate: str
    certificate_from: date
    certificate_until: date
    lever: Measured | None  # hand reference to drive centre
    adapter: str
    adapter_length: Measured | None
    adapter_angle: Measured | None
    multiplier_ratio: float  # 1 if none; true ratio including efficiency
    pressure: PressureScale | None = None
    parts: tuple[str, ...] = ()  # serials of a chain, from the hand or the pump to the fastener; () for one thing


@dataclass(frozen=True)
class Specification:
    """One joint, as its TOML file (or the page with the same schema) describes it."""

    id: str
    name: str
    place: str
    kind: str
    joint_class: Literal["A", "B", "C"]
    viewed_from: str
    first_fastener: str
    numbering: Literal["clockwise", "anticlockwise"]
    source: SourceDocument
    fasteners: Fasteners
    clamped: tuple[ClampedPart, ...]
    friction: Friction
    target: TargetWish
    procedure: Procedure
    tools_allowed: tuple[str, ...]
    cautions: tuple[str, ...]  # keys of the caution catalogue that apply
    series: Series | None
    notes: str
    text: str  # the file as received
    file: str
    copied_from: str = ""  # id of the joint whose file this one was made from
    second_sources: tuple[SecondSource, ...] = ()
    parts: PartRules = PartRules()
    gates: GateRules = GateRules()
    follow_ups: tuple[FollowUpRule, ...] = ()
    keeping: Keeping = Keeping()

    @property
    def digest(self) -> str:
        """SHA-256 of the text, hexadecimal: names this revision for good."""
        from hashlib import sha256

        return sha256(self.text.encode()).hexdigest()


@dataclass(frozen=True)
class Setting:
    """What is dialled on one tool for one pass, in the tool's own unit."""

    pass_number: int
    tool: str
    value: float
    unit: str
    digits: str  # as printed, e.g. "258"
    words: str  # "two hundred fifty-eight newton metres"
    chain: tuple[Traced, ...]  # correction steps (adapter, multiplier, rounding)
    hand_sensitivity: float  # relative change of the true torque per 10 mm hand shift; 0 without adapter
    problems: tuple[str, ...]  # out of range, certificate not valid, ... ; empty when fit


@dataclass(frozen=True)
class OwnSetting:
    """What one fastener gets in a pass in which each has a setting of its own."""

    fastener: int
    percent: float  # of the target torque
    torque: float  # N.m at the fastener
    lower: float  # N.m, acceptance window of a record of this fastener in this pass
    upper: float
    settings: tuple[Setting, ...]  # one per allowed tool


@dataclass(frozen=True)
class Pass:
    """One pass over all fasteners. Ask `torque_of`, `window` and `settings_of` for what one fastener gets.

    With `own`, `torque` is only the stage that the settings are meant to leave, `lower` and `upper` enclose all the
    windows, and `settings` is empty.
    """

    number: int  # 1-based
    name: str  # "pass 1 of 3 (30 %)", "pass 3 of 3 (own settings)" or "check pass"
    percent: float
    check: bool
    torque: float  # N.m at the fastener
    lower: float  # N.m, acceptance window of a record of this pass
    upper: float
    order: tuple[tuple[int, ...], ...]  # sequence of simultaneous groups of fastener numbers
    settings: tuple[Setting, ...]  # one per allowed tool
    own: tuple[OwnSetting, ...] = ()  # by fastener, from 1; () where all get the same

    @property
    def stage(self) -> str:
        """"30 %", or "own settings"."""
        return "own settings" if self.own else f"{self.percent:g} %"

    def _own(self, fastener: int) -> OwnSetting:
        if not 1 <= fastener <= len(self.own):
            raise ValueError(f"{self.name}: there is no fastener {fastener} among {len(self.own)}")
        return self.own[fastener - 1]

    def torque_of(self, fastener: int) -> float:
        """Torque (N.m) at one fastener. ValueError for a number the pass has no setting for."""
        return self._own(fastener).torque if self.own else self.torque

    def window(self, fastener: int) -> tuple[float, float]:
        """Between which torques (N.m) a record of one fastener is accepted. ValueError as `torque_of`."""
        if not self.own:
            return self.lower, self.upper
        own = self._own(fastener)
        return own.lower, own.upper

    def settings_of(self, fastener: int) -> tuple[Setting, ...]:
        """What is dialled for one fastener, one per allowed tool. ValueError as `torque_of`."""
        return self._own(fastener).settings if self.own else self.settings

    @property
    def every_setting(self) -> tuple[Setting, ...]:
        """The settings of all fasteners; those that all share stand in it once."""
        return tuple(setting for own in self.own for setting in own.settings) if self.own else self.settings


@dataclass(frozen=True)
class Pull:
    number: int  # 1-based over the whole procedure
    pass_number: int
    fasteners: tuple[int, ...]  # pulled at the same time
    torque: float  # N.m; the highest where the fasteners have settings of their own
    torques: tuple[float, ...] = ()  # N.m, one for each of `fasteners` where they have settings of their own


@dataclass(frozen=True)
class Problem:
    """Something about the joint that a person must know before anyone works."""

    code: str
    severity: Severity
    text: str


@dataclass(frozen=True)
class Plan:
    spec: Specification
    target: Target
    passes: tuple[Pass, ...]
    pulls: tuple[Pull, ...]
    tools: tuple[Tool, ...]
    problems: tuple[Problem, ...]

    def pass_by_number(self, number: int) -> Pass | None:
        return next((p for p in self.passes if p.number == number), None)
