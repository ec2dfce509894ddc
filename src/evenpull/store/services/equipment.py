"""The register of equipment and its certificates: what is written, and refused, about instruments.

One certificate is one fact. What was typed or received lies as a raw file. In the fact stands what the certificate
says, as plain values and as the typed form for whoever reads the log: neither that file nor its mapping is needed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from hashlib import sha256
from pathlib import Path

from evenpull.equipment import (
    Calibration,
    CertificateMapping,
    Holdings,
    TableReading,
    read_certificate_mapping,
    read_certificate_table,
    read_certificates,
    read_equipment,
)
from evenpull.equipment.plain import to_json
from evenpull.equipment.simple import one_after_the_other
from evenpull.equipment.write import certificate_text
from evenpull.instrument.certificate import doubts
from evenpull.instrument.validity import overlaps
from evenpull.plan.errors import Fault, SpecificationError
from evenpull.store.models import Fact, Mention
from evenpull.store.services import facts
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.fact_kinds import CERTIFICATE, CERTIFICATE_MAPPING, CERTIFICATE_WITHDRAWN, EQUIPMENT
from evenpull.store.services.index import CERTIFICATE_FILE, CERTIFIED, name_of
from evenpull.store.services.kept_tools import Kept, holdings, kept
from evenpull.store.services.log import New, append, checked_author, next_key, writing
from evenpull.store.services.place import keep_raw
from evenpull.store.services.register import near
from evenpull.store.services.rows import MappingRow

__all__ = ["holdings"]

SHORTEST_REASON = 5  # characters
LARGEST_FILE = 64 * 1024**2  # bytes of a table of points
_mapping = lru_cache(maxsize=64)(read_certificate_mapping)


@dataclass(frozen=True)
class EquipmentWritten:
    """How many items and assemblies a text holds; `changed` False: all of them stood so already."""

    items: int
    assemblies: int
    changed: bool


@dataclass(frozen=True)
class CertificateRow:
    """One certificate as it was written: `changed` False where the same stood there already."""

    serial: str
    number: str
    changed: bool


@dataclass(frozen=True)
class CertificatePreview:
    """What taking a table in would do. `known`: of each calibration whether the same stands there already; `doubts`
    what a person has to confirm, `problems` why it would be refused, both in words."""

    reading: TableReading
    known: tuple[bool, ...]
    doubts: tuple[str, ...]
    problems: tuple[str, ...]


def add_equipment(text: str, file: str, author: str) -> EquipmentWritten:
    """Write a register of equipment; what it names anew replaces what stood under that serial, all else stays.

    SpecificationError with every fault, also of chains that would be none. What stands there already changes nothing.
    """
    who = checked_author(author)
    with writing():
        before = kept().held
        found = read_equipment(text, file, before)
        same = all(before.items.get(one.serial) == one for one in found.items) and all(
            before.assemblies.get(one.serial) == one for one in found.assemblies)
        if not same:
            body = {
                "file": file, "text": text, "digest": sha256(text.encode()).hexdigest(),
                "serials": list(found.serials),
                "parts": {one.serial: list(one.parts) for one in found.assemblies},
            }  # fmt: skip
            append([New(EQUIPMENT, next_key(EQUIPMENT), body)], who)
    return EquipmentWritten(len(found.items), len(found.assemblies), not same)


def add_certificates(
    text: str, file: str, author: str, *, confirmed: bool = False, why: str = "",
) -> tuple[CertificateRow, ...]:
    """Write typed certificates, all of them or none; one that stands there with the same content changes nothing.

    SpecificationError with every fault of the text. Refused for an item that is in no register, for certificates that
    would overlap, for doubtful points that were not `confirmed`, and for a number that stands there with another
    content and no reason `why` it is corrected.
    """
    return _write(read_certificates(text, file), text.encode(), file, author, confirmed=confirmed, why=why)


def preview_certificates(text: str, file: str) -> tuple[tuple[Calibration, ...], tuple[str, ...], tuple[str, ...]]:
    """The typed certificates, what is doubtful in them, and why they would be refused. Writes nothing."""
    found = read_certificates(text, file)
    return found, _doubts(found), tuple(_problems(found, kept(), why=""))


def preview_certificate_table(
    name: str, data: bytes, mapping: CertificateMapping, given: Mapping[str, str],
) -> CertificatePreview:
    """What taking in a table would do. Writes nothing. IntakeError and SpecificationError when it cannot be read."""
    reading = read_certificate_table(data, mapping, name, given)
    state = kept()
    known = tuple(_same(state.held, one) for one in reading.calibrations)
    return CertificatePreview(reading, known, _doubts(reading.calibrations),
                              tuple(_problems(reading.calibrations, state, why="")))


def add_certificate_table(
    name: str, data: bytes, mapping: CertificateMapping, given: Mapping[str, str], author: str, *,
    confirmed: bool = False, why: str = "",
) -> tuple[CertificateRow, ...]:
    """Write the certificates of a table, all or none; refused as by `add_certificates`. The file is kept as it is."""
    reading = read_certificate_table(data, mapping, name, given)
    rows = {place: list(some) for place, some in reading.rows.items()}
    more = {
        "mapping": {"name": mapping.name, "file": mapping.source, "digest": mapping.digest, "text": mapping.text},
        "given": dict(given), "set_aside": [list(one) for one in reading.aside], "notes": list(reading.notes),
    }
    return _write(reading.calibrations, data, name, author, confirmed=confirmed, why=why, more=more, rows=rows)


def _write(
    found: Sequence[Calibration], raw: bytes, file: str, author: str, *, confirmed: bool, why: str,
    more: Mapping[str, object] | None = None, rows: Mapping[tuple[str, str], list[int]] | None = None,
) -> tuple[CertificateRow, ...]:
    who, reason = checked_author(author), " ".join(why.split())
    if (doubtful := _doubts(found)) and not confirmed:
        raise Refused(
            f"{file}: to be confirmed before it is written: {'; '.join(doubtful)}. Compare with the certificate, and "
            "say that it stands so, or correct it. Nothing was written."
        )
    kept_as = keep_raw(raw)
    with writing():
        state = kept()
        if problems := list(_problems(found, state, why=reason)):
            raise Refused(f"{file}: {'. '.join(problems)}. Nothing was written.")
        new = [one for one in found if not _same(state.held, one)]
        key = next_key(CERTIFICATE)
        append([_fact(one, f"{key}:{n}", state, kept_as, file, reason, more, rows)
                for n, one in enumerate(new)], who)
    return tuple(CertificateRow(one.serial, one.number, one in new) for one in found)


def _fact(
    one: Calibration, key: str, state: Kept, raw: str, file: str, why: str,
    more: Mapping[str, object] | None, rows: Mapping[tuple[str, str], list[int]] | None,
) -> New:
    place = one.serial, one.number
    typed = certificate_text(one)
    body = {
        "file": file, "serial": one.serial, "number": one.number, "said": to_json(one), "text": typed, "raw": raw,
        "digest": sha256(typed.encode()).hexdigest(),
        "corrects": state.places.get(place), "why": why if place in state.places else "",
        "planned": _planned(state.held, one), **(more or {}),
    }  # fmt: skip
    if rows is not None:
        body["rows"] = rows[place]
    return New(CERTIFICATE, key, body)


def _planned(held: Holdings, one: Calibration) -> bool:
    """Whether it changes what may be planned with the item: its first certificate, or limits on use now or before."""
    before = held.calibrations.get(one.serial, ())
    return not before or bool(one.limits) or any(c.limits for c in before)


def _same(held: Holdings, one: Calibration) -> bool:
    """Whether this certificate stands there with the same content, from whatever file."""
    before = next((c for c in held.calibrations.get(one.serial, ()) if c.number == one.number), None)
    if before is None or not before.certificate.points:
        return False
    return certificate_text(replace(before, permissible=None)) == certificate_text(replace(one, permissible=None)) and (
        one.permissible in (None, before.permissible))


def _doubts(found: Iterable[Calibration]) -> tuple[str, ...]:
    return tuple(f"{one.serial}, {one.number}, {doubt}" for one in found for doubt in doubts(one.certificate.points))


def _problems(found: Sequence[Calibration], state: Kept, *, why: str) -> list[str]:
    """Why these certificates cannot be written beside what is there."""
    problems: list[str] = []
    held = state.held
    for one in found:
        item = held.items.get(one.serial)
        if item is None:
            close = near(one.serial, sorted(held.items))
            hint = f"; near: {', '.join(close)}" if close else ""
            what = ("is an assembly: its parts have certificates" if one.serial in held.assemblies
                    else f"is in no register of tools{hint}; enter it there first")
            problems.append(f"{one.number}: {one.serial} {what}")
            continue
        if item.quantity is not None and item.quantity != one.quantity:
            problems.append(f"{one.number}: its unit {one.unit} is one of {one.quantity}, and {one.serial} shows "
                            f"{item.quantity} ({item.unit})")
            continue
        if item.scale is not None and any(
            max(limit.lower, item.scale.lower) >= min(limit.upper, item.scale.upper) for limit in one.limits
        ):
            problems.append(f"{one.number}: its limits on use leave nothing of the scale of {one.serial}")
        place = one.serial, one.number
        if place in state.places and not _same(held, one) and len(why) < SHORTEST_REASON:
            stands = ("was withdrawn; say why it is written again" if place in state.withdrawn else
                      "stands there already with another content; say why it is corrected")
            problems.append(f"{one.number} of {one.serial} {stands}, in {SHORTEST_REASON} characters or more")
    by_serial: dict[str, dict[str, Calibration]] = {}
    for one in found:
        if one.serial in held.items:
            own = by_serial.setdefault(one.serial, {c.number: c for c in held.calibrations.get(one.serial, ())})
            own[one.number] = one
    for serial, own in by_serial.items():
        faults = overlaps([c.certificate for c in one_after_the_other(list(own.values()))])
        problems += [f"{serial}: {fault}" for fault in faults]
    return problems


def withdraw_certificate(serial: str, number: str, why: str, author: str) -> None:
    """Take a certificate out of force for all days, as when the laboratory withdraws it: what was judged by it is
    judged anew. The fact of it stays. Refused without a reason; Unknown when it is not there."""
    who, reason = checked_author(author), " ".join(why.split())
    if len(reason) < SHORTEST_REASON:
        raise Refused(f"say why the certificate is withdrawn, in {SHORTEST_REASON} characters or more. Nothing was "
                      "written.")
    with writing():
        state = kept()
        if (serial, number) not in state.places or (serial, number) in state.withdrawn:
            there = ", ".join(n for s, n in state.places if s == serial and (s, n) not in state.withdrawn)
            raise Unknown(f"no certificate {number!r} of {serial!r} is kept here; there are: {there or 'none'}")
        body = {"serial": serial, "number": number, "why": reason, "withdraws": state.places[serial, number],
                "planned": True}
        append([New(CERTIFICATE_WITHDRAWN, next_key(CERTIFICATE_WITHDRAWN), body)], who)


def certificate_facts(serials: Iterable[str]) -> list[Fact]:
    """The facts of the certificates of these tools, of the parts of chains among them, and of the reference standards
    that they name, by their place in the log; corrected and withdrawn ones too."""
    held = kept().held
    wanted: set[str] = set()
    for serial in serials:
        if serial in held.assemblies or serial in held.items:
            wanted |= {serial, *held.parts_in(serial)}
    wanted |= {standard for serial in tuple(wanted) for c in held.certificates(serial) for standard in c.standards}
    names = sorted(name_of(serial) for serial in wanted)
    places: set[int] = set()
    for begin in range(0, len(names), facts.AT_ONCE):
        some = Mention.objects.filter(kind=CERTIFIED, name__in=names[begin : begin + facts.AT_ONCE], fold="")
        places |= set(some.values_list("seq", flat=True))
    return facts.by_seq(places)


def file_name(sha256: str) -> str:
    """The name of the file with this hash that a certificate came in. Unknown when none came in it."""
    found = Mention.objects.filter(kind=CERTIFICATE_FILE, name=sha256).order_by("seq").first()
    if found is None:
        raise Unknown(f"no certificate came in a file with SHA-256 {sha256[:64]}")
    return str(Fact.objects.get(seq=found.seq).data["file"])


def add_certificate_mapping(text: str, file: str, author: str) -> MappingRow:
    """Write a certificate mapping; the state in force given again changes nothing. SpecificationError passes."""
    who = checked_author(author)
    found = _mapping(text, file)
    with writing():
        last = _mapping_facts().get(found.name)
        if last is not None and last.data["digest"] == found.digest:
            return MappingRow(found.name, file, found.digest, changed=False)
        body = {"name": found.name, "file": file, "text": text, "digest": found.digest}
        append([New(CERTIFICATE_MAPPING, next_key(CERTIFICATE_MAPPING), body)], who)
    return MappingRow(found.name, file, found.digest, changed=True)


def _mapping_facts() -> dict[str, Fact]:
    """Name -> the fact of the state in force."""
    return {fact.data["name"]: fact for fact in Fact.objects.filter(kind=CERTIFICATE_MAPPING).order_by("seq")}


def certificate_mappings() -> list[MappingRow]:
    """The mapping in force under each name, by name."""
    return [
        MappingRow(name, fact.data["file"], fact.data["digest"], changed=False)
        for name, fact in sorted(_mapping_facts().items())
    ]


def certificate_mapping(name: str) -> CertificateMapping:
    """The mapping in force under this name. Unknown with the names there are."""
    found = _mapping_facts()
    if name not in found:
        raise Unknown(f"no certificate mapping {name!r} is known; there are: {', '.join(sorted(found)) or 'none yet'}")
    data = found[name].data
    return _mapping(data["text"], data["file"])


def read_file(path: Path) -> bytes:
    """The bytes of a table of points. SpecificationError for one that is far too large."""
    size = path.stat().st_size
    if size > LARGEST_FILE:
        raise SpecificationError([Fault(str(path), None, "", "", f"the file has {size} bytes; a table of points has at "
                                        f"most {LARGEST_FILE}", "the table of points alone")])
    return path.read_bytes()
