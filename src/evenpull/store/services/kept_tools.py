"""Both registers of tools as they are kept: the simple one, and that of equipment with its certificates. Reading only.

Each is made once for a state of the log: no fact of them is ever changed. A state is known by the place and the digest
of its newest fact.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from django.db import connection

from evenpull.equipment import Assembly, Calibration, Holdings, Item, read_certificates, read_equipment
from evenpull.equipment import holdings as made_of
from evenpull.evidence.checkpoint import read_moment
from evenpull.ledger.entry import Entry, from_json
from evenpull.plan import SpecificationError, read_tools
from evenpull.plan.model import Tool
from evenpull.store.models import Checkpoint, Fact, Mention
from evenpull.store.services import facts
from evenpull.store.services.errors import Refused
from evenpull.store.services.fact_kinds import CERTIFICATE, CERTIFICATE_WITHDRAWN, ENTRY, EQUIPMENT, TOOLS
from evenpull.store.services.index import name_of

KINDS = (TOOLS, EQUIPMENT, CERTIFICATE, CERTIFICATE_WITHDRAWN)
State = tuple[str, int, str]  # database, place and digest of the newest fact; -1 and "" for none

# Reading a text is pure, so that one text is read once in a process however often it is looked at.
_tools = lru_cache(maxsize=64)(read_tools)
_equipment = lru_cache(maxsize=64)(read_equipment)
_certificates = lru_cache(maxsize=4096)(read_certificates)


@dataclass(frozen=True)
class Kept:
    """What both registers say. `simple`: serial -> its entries of the simple register by their first day; `held`: both
    as one, without what was written about tools; `tools`: serial -> entries that settings and judgement take, of both;
    `places`: (serial, number) -> place of the fact of a certificate; `described`: serial -> place of the fact that
    describes it now; `withdrawn`: (serial, number) -> place of the fact that withdrew it."""

    simple: Mapping[str, tuple[Tool, ...]]
    held: Holdings
    tools: Mapping[str, tuple[Tool, ...]]
    places: Mapping[tuple[str, str], int]
    described: Mapping[str, int]
    withdrawn: Mapping[tuple[str, str], int]


def holdings() -> Holdings:
    """Everything that is known of tools, of both registers, with the entries about them."""
    return _with_entries(*facts.once("state of tools", _states))


def kept() -> Kept:
    """Both registers without the entries about tools."""
    return _kept(facts.once("state of tools", _states)[0])


def tools() -> Mapping[str, tuple[Tool, ...]]:
    """Serial -> entries that settings and judgement take; of a serial of the register of equipment those that follow
    from it, else those of the simple register."""
    return kept().tools


def _states() -> tuple[State, State]:
    """Of the registers, and of the entries about tools, as the log stands: asked once for each signed state of it."""
    last = Checkpoint.objects.order_by("-size").values_list("size", "root").first()
    return _states_at(str(connection.settings_dict["NAME"]), *(last or (0, "")))


@lru_cache(maxsize=8)
def _states_at(database: str, size: int, root: str) -> tuple[State, State]:
    newest = [
        found for kind in KINDS
        if (found := Fact.objects.filter(kind=kind).order_by("-seq").values_list("seq", "digest").first()) is not None
    ]
    entry = Mention.objects.filter(kind="tool", fold="").order_by("-seq").values_list("seq", flat=True).first()
    digest = None if entry is None else Fact.objects.filter(seq=entry).values_list("digest", flat=True).first()
    return (database, *max(newest, default=(-1, ""))), (database, -1 if entry is None else entry, digest or "")


@lru_cache(maxsize=4)
def _kept(state: State) -> Kept:
    simple: dict[tuple[str, str], Tool] = {}
    items: dict[str, Item] = {}
    assemblies: dict[str, Assembly] = {}
    calibrations: dict[tuple[str, str], Calibration] = {}
    places: dict[tuple[str, str], int] = {}
    described: dict[str, int] = {}
    withdrawn: dict[tuple[str, str], int] = {}
    for fact in Fact.objects.filter(kind__in=KINDS, seq__lte=state[1]).order_by("seq"):
        data = fact.data
        if fact.kind == TOOLS:
            for tool in _tools(data["text"], data["file"]):
                simple[tool.serial, tool.certificate] = tool
        elif fact.kind == EQUIPMENT:
            read = _read(fact, data, _equipment)
            items |= {one.serial: one for one in read.items}
            assemblies |= {one.serial: one for one in read.assemblies}
            described |= dict.fromkeys(read.serials, fact.seq)
        elif fact.kind == CERTIFICATE:
            place = data["serial"], data["number"]
            found = _read(fact, data, _certificates)
            calibrations[place] = next(c for c in found if (c.serial, c.number) == place)
            places[place] = fact.seq
            withdrawn.pop(place, None)
        else:
            place = data["serial"], data["number"]
            calibrations.pop(place, None)
            withdrawn[place] = fact.seq
    by_serial: dict[str, list[Tool]] = {}
    for tool in sorted(simple.values(), key=lambda t: (t.serial, t.certificate_from)):
        by_serial.setdefault(tool.serial, []).append(tool)
    plain = {serial: tuple(some) for serial, some in by_serial.items()}
    held = made_of(items.values(), assemblies.values(), calibrations.values()).joined(
        tool for some in plain.values() for tool in some)
    derived = {serial: some for serial in (*items, *assemblies) if (some := held.as_tools(serial))}
    return Kept(plain, held, plain | derived, places, described, withdrawn)


def _read(fact: Fact, data: Any, reader: Any) -> Any:
    """What a text says. Refused where a later version reads it no more: nothing may be judged without it."""
    try:
        return reader(data["text"], data["file"])
    except SpecificationError as error:  # the rules of the form became stricter after it was written
        raise Refused(
            f"the {fact.kind} of fact {fact.seq} was written under earlier rules and is refused by this version: "
            f"{error}. Write it anew."
        ) from error


@lru_cache(maxsize=4)
def _with_entries(registers: State, entries: State) -> Holdings:
    """By serial of the registers, however an entry writes it; those about other tools as they write it."""
    held, written = _kept(registers).held, _entries(entries)
    found = {serial: some for serial in held.serials if (some := written.get(name_of(serial)))}
    known = {name_of(serial) for serial in held.serials}
    return held.with_entries({**{some[0].name: some for name, some in written.items() if name not in known}, **found})


# database -> the state up to which its entries about tools were read, and they by serial as it is looked up
_read_up_to: dict[str, tuple[State, dict[str, tuple[Entry, ...]]]] = {}


def _entries(state: State) -> dict[str, tuple[Entry, ...]]:
    """Entries about tools by the serial as it is looked up, in their order. What was read before is read on from
    there, if the log still holds what was its newest then."""
    before, found = _read_up_to.get(state[0], ((state[0], -1, ""), {}))
    if before[1] > state[1] or not Fact.objects.filter(seq=before[1], digest=before[2]).exists():
        before, found = (state[0], -1, ""), {}
    mentions = Mention.objects.filter(kind="tool", fold="", seq__gt=before[1], seq__lte=state[1]).order_by("seq")
    new: dict[str, list[Entry]] = {}
    for fact in facts.by_seq(set(mentions.values_list("seq", flat=True))):
        data = fact.data
        if fact.kind == ENTRY and data["subject"] == "tool":
            entry = from_json(data, id=fact.key, by=fact.author, written_at=read_moment(fact.written_at), seq=fact.seq)
            new.setdefault(name_of(entry.name), []).append(entry)
    whole = {**found, **{serial: (*found.get(serial, ()), *some) for serial, some in new.items()}}
    if len(_read_up_to) > 8:
        _read_up_to.clear()
    _read_up_to[state[0]] = state, whole
    return whole

