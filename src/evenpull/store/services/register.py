"""What was asked: joints, tools, mappings. Each is kept as the text that was received; a revision is a new fact."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import suppress
from datetime import date
from difflib import get_close_matches
from functools import lru_cache
from hashlib import sha256
from typing import Any

from django.db.models.functions import Upper

from evenpull.evidence.checkpoint import read_moment
from evenpull.intake import IntakeError, Mapping, read_mapping
from evenpull.plan import SpecificationError, read_specification, read_tools
from evenpull.plan.model import Specification, Tool
from evenpull.store.models import Fact
from evenpull.store.services import facts, kept_tools
from evenpull.store.services.errors import Refused, Unknown, UnknownJoint
from evenpull.store.services.fact_kinds import MAPPING, SPECIFICATION, TOOLS
from evenpull.store.services.log import New, append, checked_author, writing
from evenpull.store.services.rows import JointRow, MappingRow, RevisionRow

# Reading a text is pure, so that one text is read once in a process however often it is looked at.
_specification = lru_cache(maxsize=4096)(read_specification)
_mapping = lru_cache(maxsize=64)(read_mapping)


def _digest(text: str) -> str:
    return sha256(text.encode()).hexdigest()


def near(name: str, known: list[str]) -> tuple[str, ...]:
    """Known names that look like `name`, nearest first, at most three."""
    folded = {k.upper(): k for k in known}
    return tuple(folded[m] for m in get_close_matches(name.upper(), list(folded), n=3, cutoff=0.75))


def add_joint(text: str, file: str, author: str) -> JointRow:
    """Write a revision of a joint. The text now in force given again changes nothing. SpecificationError passes."""
    return add_joints([(text, file)], author)[0]


def add_joints(files: Iterable[tuple[str, str]], author: str) -> list[JointRow]:
    """Write revisions of many joints, (text, file) each, all of them or none; of two of one joint the later counts."""
    who = checked_author(author)
    read = [(text, file, read_specification(text, file)) for text, file in files]
    rows: list[JointRow] = []
    with writing():
        last = _in_force([spec.id for _, _, spec in read])
        new = []
        for text, file, spec in read:
            digest = _digest(text)
            held = last.get(facts.fold(spec.id))
            if held is not None and held[0] != spec.id:
                raise Refused(
                    f"{file}: joint.id {spec.id!r} differs from {held[0]!r} only in capitals; use that id or another. "
                    "Nothing was written."
                )
            changed = held is None or held[2] != digest
            rows.append(JointRow(spec.id, spec.source.revision, spec.source.document, digest, changed))
            if not changed:
                continue
            number = 1 if held is None else held[1] + 1
            last[facts.fold(spec.id)] = spec.id, number, digest
            body = {
                "file": file,
                "text": text,
                "digest": digest,
                "document": spec.source.document,
                "revision": spec.source.revision,
            }
            new.append(New(SPECIFICATION, f"{SPECIFICATION}:{spec.id}:{number}", body, spec.id))
        append(new, who)
    return rows


def _in_force(names: list[str]) -> dict[str, tuple[str, int, str]]:
    """Fold -> (id as written, how many revisions, digest of the last), of those of these joints that are described."""
    found: dict[str, tuple[str, int, str]] = {}
    for folds in facts.parts(sorted({facts.fold(name) for name in names})):
        some = Fact.objects.annotate(fold=Upper("joint")).filter(fold__in=folds, kind=SPECIFICATION)
        for fact in some.order_by("seq"):
            _, number, _ = found.get(facts.fold(fact.joint), ("", 0, ""))
            found[facts.fold(fact.joint)] = fact.joint, number + 1, fact.data["digest"]
    return found


def joint_ids() -> list[str]:
    return sorted(set(Fact.objects.filter(kind=SPECIFICATION).order_by().values_list("joint", flat=True)))


def described(names: Iterable[str]) -> dict[str, str]:
    """Fold -> id, of those of these names that are described joints, however they are written."""
    wanted = sorted({facts.fold(name) for name in names})
    found: dict[str, str] = {}
    for some in facts.parts(wanted):
        for joint in Fact.objects.annotate(fold=Upper("joint")).filter(fold__in=some, kind=SPECIFICATION).values_list(
            "joint", flat=True
        ):
            found[facts.fold(joint)] = joint
    return {name: joint for name, joint in found.items() if name in set(wanted)}


def specification(joint_id: str) -> Specification:
    """The revision in force. UnknownJoint with near ids when there is none."""
    fact = facts.last_of_joint(joint_id, SPECIFICATION)
    if fact is None:
        close = near(joint_id, joint_ids())
        hint = f"; near: {', '.join(close)}" if close else ""
        raise UnknownJoint(f"no joint {joint_id!r} is described here{hint}")
    data = fact.data
    try:
        return _specification(data["text"], data["file"])
    except SpecificationError as error:  # the rules of the form became stricter after it was written
        raise Refused(
            f"the description of {joint_id} in force was written under earlier rules and is refused by this version: "
            f"{error}. Write a new revision of it."
        ) from error


def revisions(joint_id: str) -> list[RevisionRow]:
    """All revisions, the first one first."""
    return [
        RevisionRow(d["revision"], d["document"], read_moment(fact.received_at), fact.author, d["digest"], d["file"])
        for fact in facts.of_joint(joint_id, SPECIFICATION)
        for d in [fact.data]
    ]


def earlier_specifications(joint_id: str) -> tuple[Specification, ...]:
    """The revisions before the one in force, oldest first; a later text of the same revision replaces it, and one that
    this version refuses is left out (its page says so)."""
    found: dict[tuple[str, str, date], Specification] = {}
    for fact in facts.of_joint(joint_id, SPECIFICATION):
        data = fact.data
        try:
            spec = _specification(data["text"], data["file"])
        except SpecificationError:
            continue
        found[spec.source.document, spec.source.revision, spec.source.in_force_from] = spec
    newest = list(found.values())[-1:]
    return tuple(spec for spec in found.values() if spec not in newest)


def add_tools(text: str, file: str, author: str) -> int:
    """Write a tool register; the same text again changes nothing. Gives the number of tools in it."""
    who = checked_author(author)
    found = read_tools(text, file)
    key = f"{TOOLS}:{_digest(text)}"
    with writing():
        if not Fact.objects.filter(key=key).exists():
            append([New(TOOLS, key, {"file": file, "text": text})], who)
    return len(found)


def tools(serials: Iterable[str] | None = None) -> tuple[Tool, ...]:
    """Every entry of every register, by serial and then by the beginning of the certificate; of these serials, or all.

    A renewed certificate is a further entry of the same serial; a later text for the same certificate replaces it. What
    stands in the register of equipment is here as its certificates give it, see `kept_tools`.
    """
    by_serial = kept_tools.tools()
    wanted = sorted(by_serial) if serials is None else sorted(set(serials) & by_serial.keys())
    return tuple(tool for serial in wanted for tool in by_serial[serial])


def tools_in_force(day: date, serials: Iterable[str] | None = None) -> tuple[Tool, ...]:
    """One entry of each tool for settings made on `day`: that whose certificate covers it, else the latest."""
    chosen: dict[str, Tool] = {}
    for tool in tools(serials):  # by serial, then by the beginning of the certificate
        held = chosen.get(tool.serial)
        covers = tool.certificate_from <= day <= tool.certificate_until
        if held is None or covers or not held.certificate_from <= day <= held.certificate_until:
            chosen[tool.serial] = tool
    return tuple(chosen.values())


def add_mapping(text: str, file: str, author: str, *, new_name: bool = False) -> MappingRow:
    """Write a mapping; IntakeError with line and field when it cannot be used. `new_name`: Refused when another text
    has this name already, so that what others read with it does not change under their hands."""
    who = checked_author(author)
    found = read_mapping(text, file)
    digest = _digest(text)
    with writing():
        last = _latest_mappings().get(found.name)
        if last is not None and last["digest"] == digest:
            return MappingRow(found.name, file, digest, changed=False)
        if last is not None and new_name:
            raise Refused(
                f"a mapping named {found.name!r} is known already and says something else; give this one another "
                "name. Nothing was written."
            )
        count = Fact.objects.filter(kind=MAPPING).count()
        body = {"name": found.name, "file": file, "text": text, "digest": digest}
        append([New(MAPPING, f"{MAPPING}:{count + 1}:{digest}", body)], who)
    return MappingRow(found.name, file, digest, changed=True)


def _latest_mappings() -> dict[str, Any]:
    """Name -> content of the fact in force under it, by name."""
    found = {}
    for fact in Fact.objects.filter(kind=MAPPING).order_by("seq"):
        data = fact.data
        found[data["name"]] = data
    return dict(sorted(found.items()))


def mappings() -> list[MappingRow]:
    """The mapping now in force under each name, by name."""
    return [
        MappingRow(name, data["file"], data["digest"], changed=False) for name, data in _latest_mappings().items()
    ]


def mappings_in_force() -> Iterator[tuple[str, Mapping]]:
    """Each of them read, by name. One whose text this version refuses is left out: no file can be read with it."""
    for name, data in _latest_mappings().items():
        with suppress(IntakeError):
            yield name, _mapping(data["text"], data["file"])


def mapping_of(name: str, digest: str) -> Mapping:
    """A mapping in the state in which a file was read with it. Unknown when the log does not hold it."""
    for fact in Fact.objects.filter(kind=MAPPING).order_by("seq"):
        data = fact.data
        if data["digest"] == digest:
            return _mapping(data["text"], data["file"])
    raise Unknown(f"the mapping {name!r} is not kept in the state {digest[:16]} in which the file was read")


def mapping(name: str) -> Mapping:
    """The mapping in force under this name. Unknown with the names there are."""
    known = _latest_mappings()
    if name not in known:
        raise Unknown(f"no mapping {name!r} is known; there are: {', '.join(known) or 'none yet'}")
    data = known[name]
    return _mapping(data["text"], data["file"])
