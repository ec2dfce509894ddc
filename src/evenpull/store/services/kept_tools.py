"""Both registers of tools as they are kept: the simple one, and that of equipment with its certificates. Reading only.

Each is made once for a state of the log: no fact of them is ever changed. A state is known by the place and the digest
of its newest fact.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from typing import Any

from django.db import connection

from evenpull.equipment import Assembly, Calibration, Equipment, Holdings, Item, read_equipment
from evenpull.equipment import holdings as made_of
from evenpull.equipment.plain import from_json as calibration_from
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


def states() -> tuple[State, State]:
    """The state of both registers, and that of the entries about tools: what is made of them may be kept by these."""
    return facts.once("state of tools", _states)


def holdings() -> Holdings:
    """Everything that is known of tools, of both registers, with the entries about them."""
    return _with_entries(*states())


def kept() -> Kept:
    """Both registers without the entries about tools."""
    return _kept(states()[0])


def tools() -> Mapping[str, tuple[Tool, ...]]:
    """Serial -> entries that settings and judgement take, () where there are none; of a serial of the register of
    equipment those that follow from it, else those of the simple register."""
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


class _Tools(Mapping[str, tuple[Tool, ...]]):
    """Serial -> its entries for settings and judgement, those that follow from the register of equipment made when they
    are asked for; () for what gives none. `made` keeps them."""

    def __init__(
        self, simple: Mapping[str, tuple[Tool, ...]], held: Holdings, own: set[str], made: dict[str, tuple[Tool, ...]],
    ) -> None:
        self._simple, self._held, self._own, self._made = simple, held, own, made

    def __getitem__(self, serial: str) -> tuple[Tool, ...]:
        if serial not in self._own:
            return self._simple[serial]
        if serial not in self._made:
            self._made[serial] = self._held.as_tools(serial)
        return self._made[serial] or self._simple.get(serial, ())

    def __iter__(self) -> Iterator[str]:
        return iter({**self._simple, **dict.fromkeys(self._own)})

    def __len__(self) -> int:
        return len(self._own | self._simple.keys())


@dataclass
class _Read:
    """What was read of the log up to a state, to be read on from there."""

    state: State
    simple: dict[tuple[str, str], Tool]
    items: dict[str, Item]
    assemblies: dict[str, Assembly]
    calibrations: dict[tuple[str, str], Calibration]
    places: dict[tuple[str, str], int]
    described: dict[str, int]
    withdrawn: dict[tuple[str, str], int]
    derived: dict[str, tuple[Tool, ...]]

    def further(self, state: State) -> _Read:
        """A copy that may be changed: what was given out before is not."""
        return replace(self, state=state, **{
            one.name: dict(getattr(self, one.name)) for one in fields(self) if one.name != "state"})

    def take(self, fact: Fact) -> set[str]:
        """Take one fact in; the serials that it concerns."""
        data = fact.data
        if fact.kind == TOOLS:
            found = _tools(data["text"], data["file"])
            self.simple |= {(tool.serial, tool.certificate): tool for tool in found}
            return {tool.serial for tool in found}
        if fact.kind == EQUIPMENT:
            read = _equipment_of(fact, data)
            self.items |= {one.serial: one for one in read.items}
            self.assemblies |= {one.serial: one for one in read.assemblies}
            self.described |= dict.fromkeys(read.serials, fact.seq)
            return set(read.serials)
        place = data["serial"], data["number"]
        if fact.kind == CERTIFICATE:
            self.calibrations[place], self.places[place] = calibration_from(data["said"]), fact.seq
            self.withdrawn.pop(place, None)
        else:
            self.calibrations.pop(place, None)
            self.withdrawn[place] = fact.seq
        return {place[0]}


_read_up_to: dict[str, _Read] = {}  # by database


@lru_cache(maxsize=4)
def _kept(state: State) -> Kept:
    """Read on from what was read before, if the log still holds what was its newest fact then."""
    database, seq, _ = state
    before = _read_up_to.get(database)
    if before is None or before.state[1] > seq or not _holds(before.state):
        before = _Read((database, -1, ""), {}, {}, {}, {}, {}, {}, {}, {})
    now, touched = before.further(state), set[str]()
    for fact in Fact.objects.filter(kind__in=KINDS, seq__gt=before.state[1], seq__lte=seq).order_by("seq"):
        touched |= now.take(fact)
    by_serial: dict[str, list[Tool]] = {}
    for tool in sorted(now.simple.values(), key=lambda t: (t.serial, t.certificate_from)):
        by_serial.setdefault(tool.serial, []).append(tool)
    plain = {serial: tuple(some) for serial, some in by_serial.items()}
    held = made_of(now.items.values(), now.assemblies.values(), now.calibrations.values()).joined(
        tool for some in plain.values() for tool in some)
    touched |= {one for one in now.assemblies if touched & held.parts_in(one)}
    for serial in touched:
        now.derived.pop(serial, None)
    if len(_read_up_to) > 8:
        _read_up_to.clear()
    _read_up_to[database] = now
    own = {serial for serial, item in now.items.items() if item.drives} | set(now.assemblies)
    return Kept(plain, held, _Tools(plain, held, own, now.derived), now.places, now.described, now.withdrawn)


def _holds(state: State) -> bool:
    return state[1] < 0 or Fact.objects.filter(seq=state[1], digest=state[2]).exists()


def _equipment_of(fact: Fact, data: Any) -> Equipment:
    """Refused where a later version reads the text no more: nothing may be judged without it."""
    try:
        return _equipment(data["text"], data["file"], checked=True)
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
_entries_up_to: dict[str, tuple[State, dict[str, tuple[Entry, ...]]]] = {}


def _entries(state: State) -> dict[str, tuple[Entry, ...]]:
    """Entries about tools by the serial as it is looked up, in their order. What was read before is read on from
    there, if the log still holds what was its newest then."""
    before, found = _entries_up_to.get(state[0], ((state[0], -1, ""), {}))
    if before[1] > state[1] or not _holds(before):
        before, found = (state[0], -1, ""), {}
    mentions = Mention.objects.filter(kind="tool", fold="", seq__gt=before[1], seq__lte=state[1]).order_by("seq")
    new: dict[str, list[Entry]] = {}
    for fact in facts.by_seq(set(mentions.values_list("seq", flat=True))):
        data = fact.data
        if fact.kind == ENTRY and data["subject"] == "tool":
            entry = from_json(data, id=fact.key, by=fact.author, written_at=read_moment(fact.written_at), seq=fact.seq)
            new.setdefault(name_of(entry.name), []).append(entry)
    whole = {**found, **{serial: (*found.get(serial, ()), *some) for serial, some in new.items()}}
    if len(_entries_up_to) > 8:
        _entries_up_to.clear()
    _entries_up_to[state[0]] = state, whole
    return whole

