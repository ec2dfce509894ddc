"""What the person at the check device must know before the first pull: the cautions of the catalogue that apply."""

from __future__ import annotations

from collections.abc import Collection

from evenpull.catalogue.cautions import Caution, caution
from evenpull.study.model import Study

_BY_TOOL = {"hydraulic": "reaction arm", "powered": "powered tool"}
RANGE = (
    "The pull is beyond the range of the tool or of the check device, a square does not sit fully, or something "
    "creaks: stop, and call the person who leads the study."
)


def cautions_of(study: Study, tool_kinds: Collection[str]) -> tuple[Caution, ...]:
    """Cautions for pulling on a check device or fixture. `tool_kinds` of the tools as registered; a tool that is not is
    taken as one pulled by hand."""
    keys = [_BY_TOOL[kind] for kind in ("hydraulic", "powered") if kind in tool_kinds]
    if not keys or set(tool_kinds) - set(_BY_TOOL):
        keys.insert(0, "hand tool")
    return tuple(caution(key) for key in (*keys, "true record"))


def rules_of(study: Study) -> tuple[str, ...]:
    """How the readings are taken, so that they are what the study takes them for."""
    rules = []
    if study.tools:
        rules.append("Set the tool anew before each pull: turn the setting away and back. A reading with the setting "
                     "left as it was shows less scatter than work does.")
    if study.hidden:
        rules.append("Whoever pulls does not see the display. Another person reads and writes.")
    rules.append("Pull slowly and evenly, hand on the mark of the handle, and let go after each pull.")
    rules.append("Keep to the order below. It was drawn; another order may hide what it is to show.")
    rules.append("Write down each reading as the display shows it, also an odd one, and say beside it what was odd.")
    return (*rules, RANGE)
