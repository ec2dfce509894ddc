"""Tool register and joint of the report's tests as TOML; the joint with places to fill in."""

TOOLS = """form = "evenpull tools 1"
[[tool]]
serial = "TW-0219"
name = "Setting torque wrench, long"
kind = "setting"
unit = "N.m"
range = ["1 N.m", "2000 N.m"]
resolution = "0.1 N.m"
uncertainty = "2.8 %"
certificate = "KNC-26-0318"
certificate_from = 2026-02-12
certificate_until = 2027-02-11
lever = "1150 mm"
[[tool]]
serial = "TW-0252"
name = "Setting torque wrench with crow-foot"
kind = "setting"
unit = "N.m"
range = ["1 N.m", "2000 N.m"]
resolution = "0.1 N.m"
uncertainty = "3.0 %"
certificate = "KNC-26-0340"
certificate_from = 2026-02-20
certificate_until = 2026-03-17
lever = "1100 mm"
[tool.adapter]
name = "crow-foot 36"
length = "60 mm"
angle = "0 deg"
"""

SPEC = """form = "evenpull joint 1"
[joint]
id = "KN-CW-014"
name = "Pump discharge flange"
place = "Kestrel Narrows / unit 2 / cooling water / gallery 3"
kind = "{kind}"
class = "B"
viewed_from = "the pump, looking downstream"
first_fastener = "at 12 o'clock, under the lifting eye"
numbering = "clockwise"
[source]
document = "KN-SPEC-0114"
revision = "C"
place = "table 4, line 14"
approved_by = "M. Okonjo-Reyes"
in_force_from = 2026-02-02
[fasteners]
count = {count}
thread = "{thread}"
class = "8.8"
length = "110 mm"
head = "hexagon"
counterpart = "nut"
nut_class = "8"
washer_under_head = true
washer_under_nut = true
hole = "medium"
turned = "nut"
condition = "new"
lot = "KL-7731"
circle = "{circle} mm"
[[clamped]]
part = "flange, pump side"
material = "steel"
thickness = "30 mm"
[[clamped]]
part = "flat gasket, fibre"
material = "fibre"
thickness = "3 mm"
[friction]
lubricant = "molybdenum disulfide paste"
mu_G = [0.10, 0.12, 0.14]
mu_K = [0.10, 0.12, 0.14]
basis = "test KN-T-031 of lot KL-7731, method of ISO 16047"
[target]
method = "torque"
rule = "friction"
torque = "{torque}"
tolerance = "{tolerance} %"
{required}
[procedure]
order = "star"
passes = {passes}
check_passes = {checks}
check_order = "circular"
tools_at_once = 1
{limit}
strict_passes = true
strict_order = false
[tools]
allowed = ["TW-0219", "TW-0252"]
{more}
"""
