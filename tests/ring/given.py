"""The eight given joints as ring cases (SI)."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from evenpull.ring.case import BearingFace, Facing, Flange, Neck, RaisedFace, RingBolts, RingCase
from evenpull.ring.laws import GasketLaw, LinearLaw

HERE = Path(__file__).parent / "given"
MM, PER_MM = 1e-3, 1e3  # lengths; N/mm to N/m
MPA, MPA_PER_MM = 1e6, 1e9
NMM = 1e-3


def given_paths() -> list[Path]:
    return sorted(HERE.glob("*.json"))


def read_given(path: Path) -> tuple[RingCase, LinearLaw, dict[str, Any]]:
    """The joint with its loading curve, the linear law of its other results, and the whole file (mm, N, MPa)."""
    file = json.loads(path.read_text(encoding="utf-8"))
    bolts, flange, gasket = file["bolts"], file["flange"], file["gasket"]
    face, hub = flange["raised_face"], flange["hub"]
    one = Flange(
        bore=flange["bore"] * MM,
        outside_diameter=flange["outside_diameter"] * MM,
        thickness=flange["thickness"] * MM,
        end=BearingFace(d_w=bolts["bearing_face_diameter"] * MM, d_h=bolts["hole_diameter"] * MM),
        raised_face=None
        if face is None
        else RaisedFace(outside_diameter=face["diameter"] * MM, height=face["height"] * MM),
        neck=Neck(
            at_back=hub["thickness_at_back"] * MM,
            wall=hub["wall"] * MM,
            length=hub["length"] * MM,
            pipe_length=hub["pipe_length"] * MM,
        ),
        E=flange["young"] * MPA,
        nu=flange["poisson"],
    )
    curve = tuple((w * MM, p * MPA) for w, p in gasket["loading_curve_compression_pressure"])
    case = RingCase(
        name=file["joint"],
        bolts=RingBolts(
            count=bolts["count"],
            bolt_circle=bolts["bolt_circle"] * MM,
            d=bolts["nominal_diameter"] * MM,
            stiffness=bolts["axial_stiffness"] * PER_MM,
            bending=bolts["tilt_stiffness_at_one_head"] * NMM / 2,
            target=bolts["target_load"],
        ),
        flanges=(one, one),
        facing=Facing(
            inside_diameter=gasket["inside_diameter"] * MM,
            outside_diameter=gasket["outside_diameter"] * MM,
            law=GasketLaw(curve, gasket["unloading_stiffness_per_area"] * MPA_PER_MM),
        ),
    )
    return case, LinearLaw(gasket["linear_stiffness_per_area"] * MPA_PER_MM), file
