"""How a file of an unknown layout may be read: suggested, asked, previewed, then confirmed.

    file -> suggest_mapping (answers) -> text of a mapping -> preview_suggested -> commit_suggested

Only the last one writes: the mapping and the records, both or neither.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from evenpull.intake import read_bytes, read_mapping
from evenpull.intake.record import IntakeError
from evenpull.intake.suggest import Known, Suggestion, suggest
from evenpull.store.services import register, taking
from evenpull.store.services.log import checked_author
from evenpull.store.services.rows import Fit, Imported, Preview

SUGGESTED = "suggested mapping"  # what messages call its text
MOST_TRIED = 5_000_000  # bytes of a file on which the known mappings are tried


def suggest_mapping(
    name: str, data: bytes | Path, answers: Mapping[str, str] | None = None, title: str = ""
) -> Suggestion:
    """What the file says of its own layout, with the joints and tools of the dossier; writes nothing. `title`: name of
    the mapping, made from the name of the file when it is empty. IntakeError when the file is no table."""
    return suggest(taking.called(name), _bytes(data), known=_known(), answers=answers, title=title)


def _known() -> Known:
    """Joints and tools. No part of a dossier states the zone of its site: zones that other mappings name are offered,
    none is taken."""
    times = [mapping.time for _, mapping in register.mappings_in_force()]
    zones = {time.zone for time in times if time is not None and time.zone}
    joints, tools = frozenset(register.joint_ids()), frozenset(tool.serial for tool in register.tools())
    return Known(joints, tools, zones=tuple(sorted(zones)))


def _bytes(data: bytes | Path) -> bytes:
    return data if isinstance(data, bytes) else data.read_bytes()


def fitting_mappings(name: str, data: bytes | Path) -> tuple[Fit, ...]:
    """The known mappings under which every row of the file becomes a record, or all but a few; the best first. Files
    beyond MOST_TRIED are not tried, as each mapping reads the file once."""
    raw, file = _bytes(data), taking.called(name)
    found = []
    for known, mapping in register.mappings_in_force() if len(raw) <= MOST_TRIED else ():
        try:
            reading = read_bytes(raw, mapping, file)
        except IntakeError:
            continue  # it describes another layout: that is what was asked here
        if len(reading.tightenings) > len(reading.unread):
            found.append(Fit(known, len(reading.tightenings), len(reading.unread)))
    return tuple(sorted(found, key=lambda fit: (fit.unread, -fit.records, fit.mapping)))


def preview_suggested(name: str, data: bytes | Path, text: str) -> Preview:
    """What taking the file in under this text of a mapping would do; writes nothing. IntakeError with line and field
    for a text that cannot be used."""
    return taking.preview(name, data, read_mapping(text, SUGGESTED))


def commit_suggested(name: str, data: bytes | Path, text: str, author: str) -> Imported:
    """Write the mapping and take the file in under it, both or neither.

    Refused when another mapping has this name already: what was read under it must not change its meaning; and when no
    row becomes a record, as such a mapping was not tried.
    """
    return taking.commit_new(name, data, read_mapping(text, SUGGESTED), text, checked_author(author))
