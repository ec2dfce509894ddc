"""Ring files of the tests; joints and documents are invented."""

from __future__ import annotations

import json
from pathlib import Path

PLAIN = """form = "evenpull ring 1"
[ring]
id = "T-R1"
name = "cover"
revision = "A"
basis = "T-SPEC 1"
second_flange = "same"
[flange]
bore = "200 mm"
outside_diameter = "340 mm"
thickness = "26 mm"
hole = "22 mm"
material = "steel"
[flange.raised_face]
outside_diameter = "255 mm"
height = "2 mm"
[flange.neck]
at_back = "15 mm"
wall = "7 mm"
length = "40 mm"
pipe_length = "80 mm"
[bolt]
count = 8
circle = "290 mm"
thread = "M20"
class = "8.8"
material = "steel"
head = "hexagon"
[[section]]
length = "20 mm"
d = "20 mm"
[counterpart]
kind = "nut"
[facing]
law = "loading curve"
inside_diameter = "215 mm"
outside_diameter = "245 mm"
thickness = "2 mm"
curve = [["0 mm", "0 MPa"], ["0.1 mm", "8 MPa"], ["0.3 mm", "60 MPa"]]
unloading = "1200 MPa/mm"
basis = "T-SHEET 2"
[target]
load = "98 kN"
[limits]
largest_pressure = "200 MPa"
[[procedure]]
name = "star"
order = "star"
passes = [0.5, 1.0]
circular_passes = 1
"""


def changed(text: str, old: str, new: str) -> str:
    """`text` with one place changed; the place must be there once."""
    assert text.count(old) == 1, old
    return text.replace(old, new)


def line_of(text: str, piece: str) -> int:
    """Line (from 1) of the one place where `piece` stands."""
    (line,) = [number for number, one in enumerate(text.splitlines(), start=1) if piece in one]
    return line


def of_given(path: Path, which: int) -> tuple[str, list[list[float]]]:
    """A given joint (tests/ring/given) as a ring file with the steps of one of its results, and the loads after each
    step over the target."""
    file = json.loads(path.read_text(encoding="utf-8"))
    bolts, flange, gasket, result = file["bolts"], file["flange"], file["gasket"], file["results"][which]
    face, hub = flange["raised_face"], flange["hub"]
    curve = ", ".join(f'["{w} mm", "{p} MPa"]' for w, p in gasket["loading_curve_compression_pressure"])
    linear = result["gasket_law"].startswith("linear")
    law = (
        f'law = "linear"\nstiffness = "{gasket["linear_stiffness_per_area"]} MPa/mm"'
        if linear
        else f'law = "loading curve"\ncurve = [{curve}]\nunloading = "{gasket["unloading_stiffness_per_area"]} MPa/mm"'
    )
    steps = ", ".join(f"[{[bolt + 1 for bolt in bolts]}, {share}]" for bolts, share in result["steps"])
    raised = (
        f'[flange.raised_face]\noutside_diameter = "{face["diameter"]} mm"\nheight = "{face["height"]} mm"\n'
        if face
        else ""
    )
    text = f"""form = "evenpull ring 1"
[ring]
id = "T-GIVEN"
name = "{file["joint"]}"
revision = "A"
basis = "{path.name}"
second_flange = "same"
[flange]
bore = "{flange["bore"]} mm"
outside_diameter = "{flange["outside_diameter"]} mm"
thickness = "{flange["thickness"]} mm"
hole = "{bolts["hole_diameter"]} mm"
material = "steel"
{raised}[flange.neck]
at_back = "{hub["thickness_at_back"]} mm"
wall = "{hub["wall"]} mm"
length = "{hub["length"]} mm"
pipe_length = "{hub["pipe_length"]} mm"
[bolt]
count = {bolts["count"]}
circle = "{bolts["bolt_circle"]} mm"
thread = "M{bolts["nominal_diameter"]:g}"
class = "10.9"
material = "steel"
head = "hexagon"
d_w = "{bolts["bearing_face_diameter"]} mm"
stiffness = "{bolts["axial_stiffness"] / 1e3} kN/mm"
bending = "{bolts["tilt_stiffness_at_one_head"] / 2e3} N.m/rad"
[counterpart]
kind = "nut"
d_w = "{bolts["bearing_face_diameter"]} mm"
[facing]
{law}
inside_diameter = "{gasket["inside_diameter"]} mm"
outside_diameter = "{gasket["outside_diameter"]} mm"
thickness = "{gasket["thickness"]} mm"
basis = "{path.name}"
[target]
load = "{bolts["target_load"]} N"
[[procedure]]
name = "as given"
steps = [{steps}]
"""
    return text, result["loads_after_each_step_over_target"]
