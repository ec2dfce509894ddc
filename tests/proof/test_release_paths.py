"""Random jobs whose true order is known, told by tools with clocks that are off, by people who are not sure, late and
out of order: nothing that is told and no exception releases a joint that is not done in truth.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace
from datetime import timedelta
from random import Random

from evenpull.intake.record import Tightening
from evenpull.ledger.entry import Entry
from evenpull.ledger.kinds import GATES
from evenpull.plan.model import GateRules, PartRules, Plan
from evenpull.proof import decide, prove
from evenpull.proof.model import Proof
from evenpull.proof.surroundings import Surroundings
from tests.proof.build import FILE, START, plan, record
from tests.proof.test_ledger import entry

OFF = 25.0  # s, that a clock is off; the program compares the clocks of two tools to a minute
LATE = "f" * 64  # the file that was read last
Place = tuple[str, int]  # unit, fastener


@dataclass
class Told:
    """One thing that happened at `at` (s, true time). `number`: pass of a pull, 0 for an undoing."""

    at: float
    place: Place
    number: int
    good: bool = True
    by_entry: bool = False
    kind: str = ""


@dataclass
class World:
    plan: Plan
    units: tuple[str, ...]
    happened: list[Told] = field(default_factory=list)

    def all_places(self) -> list[Place]:
        return [(unit, n) for unit in self.units for n in range(1, self.plan.spec.fasteners.count + 1)]

    def done(self) -> bool:
        """In truth: after the last undoing of each fastener each pass has a pull, and its last one is good."""
        for place in self.all_places():
            own = sorted((t for t in self.happened if t.place == place), key=lambda t: t.at)
            undone = max((t.at for t in own if not t.number), default=-1.0)
            for one in self.plan.passes:
                pulls = [t for t in own if t.number == one.number and t.at > undone]
                if not pulls or not pulls[-1].good:
                    return False
        return True


def job(dice: Random) -> World:
    """A joint done once, then opened and put back a few times with slips; a part of it is told as if earlier."""
    checks, series = dice.choice((0, 0, 1)), dice.random() < 0.3
    at = plan(count=2, passes=dice.choice(("[100]", "[50, 100]", "[30, 70, 100]")), checks=checks, limit="5 deg" if
              checks else "", series=series, strict_passes=False, joint_class=dice.choice("ABC"))  # fmt: skip
    gates = GateRules(independent_check=dice.random() < 0.2)
    at = replace(at, spec=replace(at.spec, gates=gates, parts=PartRules(witness_mark=dice.random() < 0.2)))
    world = World(at, ("", ) if not series else ("A", "B")[: dice.choice((1, 2))])
    clock = 0.0

    def pull(place: Place, number: int, good: bool = True) -> None:
        nonlocal clock
        clock += dice.choice((30.0, 200.0, 3600.0))
        world.happened.append(Told(clock, place, number, good))

    def around_again() -> None:
        for one in at.passes:
            if one.check:
                for place in world.all_places():
                    pull(place, one.number)

    for one in at.passes:
        for place in world.all_places():
            pull(place, one.number)
    for _ in range(dice.choice((0, 1, 1, 2))):
        place = dice.choice(world.all_places())
        slip = dice.choice(("", "", "", "a pass", "bad", "all", "late", "right after"))
        when = dice.uniform(0, clock) if slip == "late" else clock + dice.choice((30.0, 3600.0))
        by_entry = dice.random() < 0.5
        kind = dice.choice(("loosened", "removed", "disturbed") if by_entry else ("loosen", "remove"))
        world.happened.append(Told(when, place, 0, by_entry=by_entry, kind=kind))
        clock = max(clock, when) + dice.choice((20.0, 3600.0))
        if slip == "right after":  # put back within seconds, and opened once more at once
            for one in at.passes:
                clock += 3.0
                world.happened.append(Told(clock, place, one.number))
            clock += dice.choice((3.0, 600.0))
            world.happened.append(Told(clock, place, 0, by_entry=by_entry, kind=kind))
            continue
        if slip != "all":
            left = dice.choice(at.passes).number if slip in ("a pass", "bad") else 0
            for one in at.passes:
                if one.check or (one.number == left and slip == "a pass"):
                    continue
                pull(place, one.number, good=not (one.number == left and slip == "bad"))
            if dice.random() < 0.9:
                around_again()
    return world


def tell(world: World, dice: Random) -> tuple[list[Tightening], list[Entry]]:
    """The job as tools and people tell it: wrong within bounds, in any order, some of it without time or counter."""
    off = {tool: dice.uniform(-OFF, OFF) for tool in ("TW-1", "TW-4")}
    counters: Counter[str] = Counter()
    records, entries = list[Tightening](), list[Entry]()
    for number, told in enumerate(sorted(world.happened, key=lambda t: t.at)):
        unit, fastener = told.place
        if told.by_entry:
            unsure = dice.choice((0.0, 0.0, 1800.0))
            hours = (told.at + dice.uniform(-unsure, unsure)) / 3600
            made = entry(told.kind, hours, "Q. Arkwright", (fastener,), number)
            entries.append(replace(made, unit=unit, at_uncertainty=unsure))
            continue
        tool = dice.choice(("TW-1", "TW-1", "TW-4"))
        counters[tool] += 1
        changes: dict[str, object] = {"direction": "loosen", "event": told.kind} if not told.number else {}
        if not told.good:
            changes["torque"] = 12.0
        one = world.plan.pass_by_number(told.number)
        if one is not None and one.check and not told.good:
            changes["torque"] = 12.0
        records.append(record(
            world.plan, fastener, told.number or None, number, unit_id=unit, tool=tool,
            counter=None if dice.random() < 0.05 else counters[tool],
            time=None if dice.random() < 0.05 else START + timedelta(seconds=told.at + off[tool]),
            file_sha256=LATE if dice.random() < 0.2 else FILE, **changes,
        ))  # fmt: skip
    for one in dice.sample(records, 2) if dice.random() < 0.3 else ():
        entries += corrections(one, dice, 600 + len(entries))
    for kind, values in (("mark made", {}), ("checked", {"seen": "all", "result": "in order"})):
        if dice.random() < 0.7:
            last = max(t.at for t in world.happened) / 3600
            hours = last + 1 + (kind == "checked") if dice.random() < 0.8 else last / 2
            entries.append(entry(kind, hours, "Q. Arkwright", (1, 2), 500 + len(entries), **values))
    return records, entries


def corrections(one: Tightening, dice: Random, seq: int) -> list[Entry]:
    """A loosening that somebody calls a tightening; or a pull corrected by mistake, and corrected back."""
    if one.direction == "loosen":
        steps = [("direction", "loosen", "tighten")]
    else:
        name, old, new = dice.choice((
            ("torque", one.torque_text, "12"), ("fastener", str(one.fastener), str(3 - one.fastener)),
            ("direction", "tighten", "loosen"),
        ))  # fmt: skip
        steps = [(name, old, new), (name, new, old)]
    return [
        replace(entry("correction", 200, by="S. Quillfeather", seq=seq + n), values={
            "record": one.key, "field": name, "old": old, "new": new,
        }) for n, (name, old, new) in enumerate(steps)
    ]  # fmt: skip


def excepted(proof: Proof, at: float, seq: int) -> list[Entry]:
    """Somebody makes an exception from every gate there is, naming all that stands against it."""
    against = {gate.name: gate.against for gate in proof.gates}
    made = [entry("exception", at / 3600, "S. Quillfeather", (), seq, gate=name, authority="the engineer")
            for name in GATES]  # fmt: skip
    return [replace(one, covers=against.get(one.text("gate"), ())) for one in made]


def test_no_path_leads_to_a_release_of_what_is_not_done() -> None:
    dice, seen = Random(20260318), Counter[tuple[bool, bool]]()
    for _ in range(600):
        world = job(dice)
        records, entries = tell(world, dice)
        end = max(t.at for t in world.happened) + 5 * 3600
        received = {FILE: START + timedelta(seconds=end), LATE: START + timedelta(seconds=end + 3600)}
        before = prove(world.plan, records, around=Surroundings(entries=tuple(entries), received=received))
        given = excepted(before, dice.choice((0.0, end / 2, end + 7200)), 1000) if dice.random() < 0.4 else []
        told = [*entries, *given]
        dice.shuffle(records)
        dice.shuffle(told)
        proof = prove(world.plan, records, around=Surroundings(entries=tuple(told), received=received))
        released = decide(world.plan, proof).signable
        seen[world.done(), released] += 1
        if released:
            assert world.done(), [f.text for f in proof.flags]
            assert not any(state.debts or state.unproven for state in proof.states)
    # the test could fail: many jobs are not done, and many of those that are done are released
    assert seen[False, False] > 100 and seen[True, True] > 100, seen
