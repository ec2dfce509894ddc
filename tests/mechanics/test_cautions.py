"""The caution catalogue: complete, at the right place, and never an allowance."""

from __future__ import annotations

import re

import pytest

from evenpull.catalogue import CAUTIONS, NotInCatalogue, caution, cautions_for


def keys(kind: str, tools: set[str], strength: str, material: str, stage: str) -> set[str]:
    return {found.key for found in cautions_for(kind, tools, strength, material, stage)}  # type: ignore[arg-type]


def test_each_names_hazard_stop_and_who_decides() -> None:
    assert len({found.key for found in CAUTIONS}) == len(CAUTIONS)
    for found in CAUTIONS:
        assert found.task and found.hazard and found.source and found.status and found.stages
        assert "stop" in found.stop.casefold(), found.key
        assert len(found.who_decides) > 10, found.key
        assert len(found.hazard + found.stop) < 360, f"{found.key} is too long for a card"


def test_none_allows_anything() -> None:
    allowing = re.compile(
        r"\b(you may|is allowed|are allowed|permitted to|it is safe|is safe to|no danger|can safely)\b"
    )
    for found in CAUTIONS:
        text = " ".join((found.task, found.hazard, found.stop, found.who_decides)).casefold()
        assert allowing.search(text) is None, found.key


@pytest.mark.parametrize(
    ("kind", "tools", "strength", "material", "stage", "shown", "hidden"),
    [
        ("gasketed flange", {"setting"}, "8.8", "", "work", {"pressure joint", "hand tool", "identity"},
         {"structural bolts", "reaction arm", "hydrogen", "soft thread"}),
        ("gasketed flange", {"setting"}, "8.8", "", "plan", {"pressure joint", "hot work on bolts"}, {"hand tool"}),
        ("gasketed flange", set(), "8.8", "", "opening", {"pressure joint", "opening a pressure joint", "releasing"},
         {"hand tool"}),
        ("structural connection", {"powered"}, "10.9", "", "work", {"structural bolts", "powered tool", "hydrogen"},
         {"pressure joint", "hand tool"}),
        ("bolted ring", {"hydraulic"}, "12.9", "", "work", {"fatigue", "reaction arm", "hydrogen"}, {"powered tool"}),
        ("bearing housing", {"setting"}, "8.8", "EN AW-6082-T6", "work", {"soft thread"}, {"galling", "hydrogen"}),
        ("bearing housing", {"setting"}, "8.8", "C45 steel", "work", {"hand tool"}, {"soft thread"}),
        ("general assembly", {"setting"}, "A4-80", "", "work", {"galling"}, {"hydrogen"}),
        ("general assembly", {"setting"}, "A193 B8M cl.2", "", "work", {"galling"}, set()),
        ("general assembly", {"setting"}, "grade 8", "", "plan", {"hydrogen"}, {"galling"}),
        ("general assembly", set(), "8.8", "", "record", {"true record", "licensed release"}, {"identity"}),
    ],
)
def test_shown_where_they_belong(
    kind: str, tools: set[str], strength: str, material: str, stage: str, shown: set[str], hidden: set[str]
) -> None:
    found = keys(kind, tools, strength, material, stage)
    assert shown <= found
    assert not hidden & found


@pytest.mark.parametrize("stage", ["plan", "work", "record"])
def test_how_to_loosen_is_said_only_where_a_joint_is_opened(stage: str) -> None:
    """At tightening there is the stop condition and who decides, and no word on loosening."""
    shown = [c for c in CAUTIONS if c.joint_kinds == ("gasketed flange",) and stage in c.stages]
    for found in shown:
        assert re.search(r"loosen|far side|half a turn", f"{found.task} {found.stop}", re.IGNORECASE) is None, found.key
    if stage != "record":
        pressure = caution("pressure joint")
        assert pressure in shown
        assert "zero energy is proven" in pressure.stop and "weeps, hisses or moves" in pressure.stop
        assert pressure.who_decides.startswith("The issuer of the permit")
    opening = caution("opening a pressure joint")
    assert opening.stages == ("opening",) and "far side" in opening.stop
    assert all(part.strip().startswith("Stop ") for part in opening.stop.rstrip(".").split(". "))


def test_on_request_only() -> None:
    asked = {found.key for found in CAUTIONS if found.on_request}
    assert "oxygen" in asked
    for stage in ("plan", "work", "opening", "record"):
        assert not asked & keys("gasketed flange", {"hydraulic", "setting"}, "12.9", "aluminium", stage)
    assert caution("oxygen").who_decides
    with pytest.raises(NotInCatalogue, match="oxygen"):
        caution("oxigen")
    with pytest.raises(ValueError, match="stage"):
        cautions_for("gasketed flange", set(), "8.8", "", "party")  # type: ignore[arg-type]
