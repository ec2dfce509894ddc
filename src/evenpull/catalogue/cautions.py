"""The catalogue of cautions: hazard, when to stop, who decides. They never allow; local rules stand above them."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal, get_args

from evenpull.catalogue.tables import NotInCatalogue, table

Stage = Literal["plan", "work", "opening", "record"]


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution. Empty `joint_kinds`, `tool_kinds`, `strength_classes` and `material` mean: whatever it is."""

    key: str
    task: str
    hazard: str
    stop: str
    who_decides: str
    source: str
    status: str
    stages: tuple[Stage, ...]
    joint_kinds: tuple[str, ...]
    tool_kinds: tuple[str, ...]
    strength_classes: tuple[str, ...]
    material: str  # pattern for the material of tapped holes
    on_request: bool  # only when a joint names it


@lru_cache(maxsize=1)
def _all() -> tuple[Caution, ...]:
    return tuple(
        Caution(
            row["key"], row["task"], row["hazard"], row["stop"], row["who_decides"], row["source"], row["status"],
            tuple(row["stages"]), tuple(row.get("joint_kinds", ())), tuple(row.get("tool_kinds", ())),
            tuple(row.get("strength_classes", ())), row.get("material", ""), row.get("on_request", False),
        )
        for row in table("cautions")["caution"]
    )


CAUTIONS: tuple[Caution, ...] = _all()


def caution(key: str) -> Caution:
    """The caution of this key. NotInCatalogue names the keys there are."""
    for found in CAUTIONS:
        if found.key == key:
            return found
    raise NotInCatalogue("caution", key, tuple(found.key for found in CAUTIONS))


def _class_matches(classes: tuple[str, ...], strength_class: str) -> bool:
    """Whether a class, written as it may be ("A4-80", "grade 8", "A193 B8M cl.2"), is one of those named."""
    text = " ".join(strength_class.replace("ASTM", "").split()).casefold()
    stainless = re.fullmatch(r"a[1-5]?-?(50|70|80|100)", text)
    if stainless:
        text = f"a-{stainless[1]}"
    grade = re.fullmatch(r"(?:sae\s*)?(?:j\s*429\s*)?(?:grade|gr\.?)\s*([\d.]+)", text)
    if grade:
        text = f"sae j429 grade {grade[1]}"
    for named in classes:
        head = named.casefold()
        if text == head or (head[0] == "a" and text.startswith(head) and "-" not in head):
            return True
        if head == "sae j429 grade 8" and text.startswith("sae j429 grade 8."):
            return True
    return False


def cautions_for(
    joint_kind: str, tool_kinds: Collection[str], strength_class: str, tapped_material: str, stage: Stage
) -> tuple[Caution, ...]:
    """Cautions for one joint at one stage of the work, in the order of the catalogue.

    `tool_kinds`: setting, indicating, powered, hydraulic. `tapped_material` is empty for a joint with nuts. Those
    that only show on request are left out; look them up with `caution`. ValueError for an unknown stage.
    """
    if stage not in get_args(Stage):
        raise ValueError(f"{stage!r} is not a stage; known: {', '.join(get_args(Stage))}")
    return tuple(
        found for found in CAUTIONS
        if stage in found.stages
        and not found.on_request
        and (not found.joint_kinds or joint_kind in found.joint_kinds)
        and (not found.tool_kinds or bool(set(tool_kinds) & set(found.tool_kinds)))
        and (not found.strength_classes or _class_matches(found.strength_classes, strength_class))
        and (not found.material or bool(tapped_material and re.search(found.material, tapped_material)))
    )
