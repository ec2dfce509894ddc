"""Equipment, certificates and tables of an invented store that several tests use."""

from __future__ import annotations

from datetime import UTC, date, datetime

from evenpull.equipment import Holdings, holdings, read_certificates, read_equipment
from evenpull.ledger.entry import Entry

EQUIPMENT = """form = "evenpull equipment 1"

[[torque_tool]]
serial = "TW-0301"
name = "Indicating torque wrench with dial"
kind = "indicating"
type_class = "type I class B"
drive = "12.5"
unit = "N.m"
range = ["40 N.m", "200 N.m"]
resolution = "1 N.m"
permissible = "4 %"
lever = "480 mm"
directions = ["clockwise", "anticlockwise"]
serves = "A"
owner = "tool store 2"

[torque_tool.interval]
months = 12
cycles = 5000
after = ["drop", "overload", "repair"]
source = "KN-Q-011"

[[multiplier]]
serial = "TM-0051"
name = "Torque multiplier"
drive = "12.5 / 25"
directions = ["clockwise"]
serves = "B"
ratio = 13.2
uncertainty = "3 %"
strongest = "2700 N.m"

[[adapter]]
serial = "AD-0007"
name = "crow-foot 36 mm"
drive = "12.5"
length = "60 mm"
angle = "0 deg"

[[hydraulic_tool]]
serial = "HW-0041"
name = "Hydraulic torque wrench"
drive = "38"
unit = "N.m"
range = ["350 N.m", "2600 N.m"]
resolution = "5 N.m"
permissible = "3 %"
serves = "A"
gives = ["2600 N.m", "650 bar"]

[[pump]]
serial = "HP-0041"
name = "Electric pump"
strongest = "700 bar"
ripple = "1 %"

[[gauge]]
serial = "HG-0041"
name = "Pressure gauge of the pump"
unit = "bar"
range = ["0 bar", "700 bar"]
resolution = "5 bar"
accuracy = "1 %"

[[angle_device]]
serial = "AG-0003"
name = "Angle gauge"
unit = "deg"
range = ["0 deg", "360 deg"]
resolution = "1 deg"

[[stretch_device]]
serial = "UM-0002"
name = "Bolt stretch meter"
unit = "mm"
range = ["0 mm", "5 mm"]
resolution = "0.001 mm"

[[check_device]]
serial = "CD-0001"
name = "Torque check device of store 2"
unit = "N.m"
range = ["20 N.m", "500 N.m"]
resolution = "0.1 N.m"
permissible = "1 %"

[[reference_standard]]
serial = "RS-0001"
name = "Torque transducer of the laboratory"
unit = "N.m"
range = ["10 N.m", "1000 N.m"]
resolution = "0.01 N.m"
permissible = "0.2 %"

[[assembly]]
serial = "CH-0007"
name = "Multiplier chain"
parts = ["TW-0301", "TM-0051"]

[[assembly]]
serial = "HS-0041"
name = "Hydraulic set"
parts = ["HP-0041", "HG-0041", "HW-0041"]

[[assembly]]
serial = "CF-0007"
name = "Wrench with crow-foot"
parts = ["TW-0301", "AD-0007"]
"""

POINT = """
[[certificate.point]]
stage = "{stage}"
direction = "{direction}"
nominal = {nominal}
reference = {reference}
uncertainty = "1.2 %"
"""


def point(stage: str, nominal: float, reference: float, direction: str = "clockwise") -> str:
    return POINT.format(stage=stage, direction=direction, nominal=nominal, reference=reference)


def certificate(serial: str = "TW-0301", number: str = "KNC-26-0412", more: str = "", points: str = "") -> str:
    return f"""
[[certificate]]
serial = "{serial}"
number = "{number}"
calibrated = 2026-03-02
valid_until = 2027-03-01
laboratory = "Tidewater Metrology"
standards = ["RS-0001"]
unit = "N.m"
permissible = "4 %"
rule = "simple acceptance"
{more}{points or ALL_POINTS}"""


ALL_POINTS = "".join(
    point(stage, nominal, nominal / factor, direction)
    for stage, factor in (("as found", 1.05), ("as left", 1.01))
    for direction in ("clockwise", "anticlockwise") for nominal in (40.0, 120.0, 200.0)
)
CERTIFICATES = 'form = "evenpull certificates 1"\n' + certificate(more="counter = 1200\n") + certificate(
    "TM-0051", "KNC-26-0413", points=point("as found", 500, 500) + point("as found", 2600, 2600))
HYDRAULIC = certificate("HW-0041", "KNC-26-0420", points=point("as left", 350, 346) + point("as left", 2600, 2580)) + (
    certificate("HG-0041", "KNC-26-0421", points=point("as left", 100, 100.5, "either")
                + point("as left", 700, 702, "either")).replace('unit = "N.m"', 'unit = "bar"'))

READINGS = """
[[certificate.point]]
stage = "as found"
direction = "clockwise"
nominal = 100
readings = [97.2, 97.6, 98.0, 98.4, 98.8]
resolution = 0.5
b_rep = 0.6
b_od = 0.4
b_int = 0.3
b_l = 0.8
W_md = "1 %"
b_ep = 0.002
"""
BUDGET = "".join(
    f'\n[[certificate.contribution]]\nsymbol = "{symbol}"\nname = "input"\nvalue = {value}\ndistribution = "standard"\n'
    f"degrees = {degrees}\n" for symbol, value, degrees in (("x1", 0.0025, 9), ("x2", 0.0057, 4), ("x3", 0.0082, 14))
)
WITH_READINGS = 'form = "evenpull certificates 1"\n' + certificate(points=BUDGET + READINGS)

MAPPING = """form = "evenpull certificate mapping 1"
name = "Tidewater Metrology, torque sheet"
dates = "%d.%m.%Y"

[file]
kind = "csv"
delimiter = ";"
decimal = ","
header_rows = [6]
stop_at = "End"

[columns]
nominal = "Nominal"
indicated = "Set"
reference = "Reference"
direction = "Hand"
stage = "State"
uncertainty = "W (%)"

[values]
unit = "N.m"

[meaning.direction]
clockwise = ["CW"]
anticlockwise = ["CCW"]

[meaning.stage]
as_found = ["AF"]
as_left = ["AL"]

[head]
serial = { cell = "B1" }
number = { cell = "B2" }
calibrated = { cell = "B3" }
standards = { cell = "B4" }
laboratory = { value = "Tidewater Metrology" }
rule = { value = "guard band of U" }
permissible = { value = "4 %" }
"""

TABLE = """Item;TW-0301
Number;TDM 4410
Date;02.03.2026
Standards;RS-0001, RS-0002

Nominal;Set;Reference;Hand;State;W (%)
40;40;39,2;CW;AF;1,2
120;120;117,6;CW;AF;1,2
200;200;196,0;CW;AF;1,2
40;40;39,8;CW;AL;1,2
120;120;119,4;CW;AL;1,2
200;200;199,0;CW;AL;1,2
End of points
"""
GIVEN = {"valid_until": "2027-03-01"}


def store(certificates: str = CERTIFICATES, equipment: str = EQUIPMENT) -> Holdings:
    read = read_equipment(equipment, "equipment.toml", Holdings())
    return holdings(read.items, read.assemblies, read_certificates(certificates, "certificates.toml"))


def entry(kind: str, at: datetime, serial: str = "TW-0301", reason: str = "", **values: str) -> Entry:
    """An entry about a tool as the log gives it back."""
    return Entry(f"entry {at.timestamp():.0f}", kind, "tool", serial, "", (), at, 60.0, "saw it", reason,
                 "E. Brandvold", at, values, int(at.timestamp()))


def on(month: int, day: int, hour: int = 12) -> datetime:
    return datetime(2026, month, day, hour, tzinfo=UTC)


DAY = date(2026, 4, 15)
