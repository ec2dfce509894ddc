"""Random lives of small joints against a much simpler account of them: no path leads to a release with a debt open."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import timedelta
from random import Random
from typing import Any

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from evenpull.intake.record import Tightening
from evenpull.ledger.entry import Entry
from evenpull.plan.model import GateRules, PartRules, Plan
from evenpull.proof import ACTIONS, decide, prove
from evenpull.proof.model import Action, Disposition, Proof
from evenpull.proof.rules import RULES
from evenpull.proof.surroundings import Surroundings
from tests.proof.build import START, disposed, plan, record
from tests.proof.test_ledger import entry

FASTENERS, PASSES = (1, 2), (1, 2)
OPERATOR, OTHER = "R. Fjeldgaard", "Q. Arkwright"
WILLING: tuple[Action, ...] = ("engineering review", "accept as is", "redo", "replace")
LOCKS = ("locking", "mark")
ASKED = ("parts", "locking", "mark", "check")
EXCEPTED = ("parts", "locking", "mark", "independent check")
SLIPS = ("", "", "parts", "first", "last", "locking", "mark", "check", "used", "low", "own word", "not in order",
         "at once", "unsure", "checked first", "locked first", "marked first")  # fmt: skip
EVENTS = ("unstated", "unstated", "touch-up", "re-tighten after service", "replace")
WAITS = st.sampled_from((20, 3600, 3600, 3600, 3600))  # s; the clocks are not compared within a minute


@dataclass(frozen=True)
class Fact:
    """What happened, as the account below sees it. `tool`: "" for an entry; `unsure` in s."""

    at: float
    what: str
    fasteners: tuple[int, ...]
    tool: str = ""
    unsure: float = 0.0
    key: str = ""
    number: int = 0
    good: bool = True
    renewal: int = 0  # counts the fasteners that stood here one after the other, by what records call a replacement


def later(one: Fact, other: Fact) -> bool:
    """`other` is known to have come after `one`."""
    if one.tool and one.tool == other.tool:
        return one.at < other.at
    margin = 60.0 if one.tool or other.tool else 0.0
    return one.at + one.unsure + margin < other.at - other.unsure


def gone(pull: Fact, new: Fact, undone: list[Fact]) -> bool:
    """A plain pull before a new fastener, of which `new` is a pull, was complete."""
    return not pull.renewal and any(u.renewal == new.renewal > 0 and later(pull, u) for u in undone)


@dataclass
class Account:
    """All that has to be there for one fastener, told without any of the program's own rules on moments."""

    facts: list[Fact] = field(default_factory=list)

    def of(self, n: int, *what: str) -> list[Fact]:
        return [f for f in self.facts if n in f.fasteners and f.what in what]

    def owed(self, asked: set[str], away: set[str]) -> set[str]:
        """What is owed. `away`: pulls that a person named superseded; they need not be outlived, but may stand."""
        found: set[str] = set()
        for n in FASTENERS:
            undone = self.of(n, "undone", "replace")
            pulls = self.of(n, "pull", "replace")
            alive = [f for f in pulls if f.key not in away]
            for number in PASSES if undone else ():
                if not any(
                    g.good and g.number == number
                    and all(later(u, g) or u.renewal == g.renewal > 0 for u in undone)
                    and all(x is g or x.number != number or later(x, g) or gone(x, g, undone) for x in alive)
                    for g in pulls
                ):
                    found.add(f"tightening {n}")

            def free(gate: str, n: int = n, undone: list[Fact] = undone) -> bool:
                return any(all(later(u, e) for u in undone) for e in self.of(n, f"exception {gate}"))

            true_undone = [u for u in undone if u.what == "undone"]
            if "parts" in asked and not free("parts") and not any(
                all(later(u, f) for u in true_undone) for f in self.of(n, "new nut", "used nut")
            ):
                found.add(f"parts {n}")
            locks = {}
            for what in LOCKS:
                if what in asked and not free(what):
                    locks[what] = [f for f in self.of(n, what) if all(later(x, f) for x in (*undone, *alive))]
                    if not locks[what]:
                        found.add(f"{what} {n}")
            if "check" in asked and not free("independent check") and not any(
                all(later(x, f) for x in (*undone, *alive))
                and all(any(later(one, f) for one in made) for made in locks.values())
                for f in self.of(n, "seen")
            ):
                found.add(f"check {n}")
            used = self.of(n, "used nut")
            if "parts" in asked and not free("parts") and any(
                not any(later(u, f) for f in self.of(n, "new nut")) for u in used
            ):
                found.add("fault")
        return found


class Lives(RuleBasedStateMachine):
    plan: Plan
    asked: set[str]

    def __init__(self) -> None:
        super().__init__()
        self.clock = 0.0
        self.records: list[Tightening] = []
        self.entries: list[Entry] = []
        self.given: list[Disposition] = []
        self.account = Account()
        self.counters = {"TW-1": 0, "TW-4": 0}
        self.away: set[str] = set()
        self.proof: Proof | None = None

    @initialize(asked=st.sets(st.sampled_from(ASKED)), joint_class=st.sampled_from("ABC"), done=st.booleans())
    def begin(self, asked: set[str], joint_class: str, done: bool) -> None:
        at = plan(count=2, passes="[50, 100]", strict_passes=False, joint_class=joint_class)
        rules = PartRules(
            single_use=("nut",) if "parts" in asked else (), locking="wire" if "locking" in asked else "",
            witness_mark="mark" in asked,
        )  # fmt: skip
        self.asked = asked
        self.plan = replace(at, spec=replace(at.spec, parts=rules, gates=GateRules(independent_check="check" in asked)))
        if done:  # begin with a joint that is done, so that much of a life lies after its release
            for n in FASTENERS:
                self.parts(n, "new nut", 3600)
            for number in PASSES:
                for n in FASTENERS:
                    self.pull(n, number, "TW-1", True, "unstated", 3600)
            for what in LOCKS:
                for n in FASTENERS:
                    self.lock(n, what, 3600)
            self.check(FASTENERS, True, OTHER, 3600)
            assert decide(self.plan, self._prove()).signable

    def _tell(
        self, kind: str, what: str, numbers: tuple[int, ...], by: str = OTHER, unsure: float = 0.0, **values: str
    ) -> None:
        made = entry(kind, self.clock / 3600, by, numbers, len(self.entries) + 1, **values)
        self.entries.append(replace(made, at_uncertainty=unsure))
        self.account.facts.append(Fact(self.clock, what, numbers or FASTENERS, unsure=unsure))

    def _record(self, n: int, number: int, tool: str, what: str, good: bool = True, **changes: Any) -> None:
        self.counters[tool] += 1
        at = START + timedelta(seconds=self.clock)
        if not good:
            changes["torque"] = 12.0
        made = record(self.plan, n, number, 0, tool=tool, counter=self.counters[tool], time=at,
                      row=len(self.records) + 2, operator=OPERATOR, **changes)  # fmt: skip
        self.records.append(made)
        renewal = 0
        if what == "replace":
            last = self.account.of(n, "replace")[-1:]
            renewal = (last[0].renewal if last else 0) + (not last or number <= last[0].number)
        self.account.facts.append(Fact(self.clock, what, (n,), tool, 0.0, made.key, number, good, renewal))

    @rule(n=st.sampled_from(FASTENERS), number=st.sampled_from(PASSES), tool=st.sampled_from(("TW-1", "TW-1", "TW-4")),
          good=st.sampled_from((True, True, True, False)), event=st.sampled_from(EVENTS), wait=WAITS)  # fmt: skip
    def pull(self, n: int, number: int, tool: str, good: bool, event: str, wait: int) -> None:
        self.clock += wait
        self._record(n, number, tool, "replace" if event == "replace" else "pull", good, event=event)

    @rule(n=st.sampled_from(FASTENERS), tool=st.sampled_from(("TW-1", "TW-4")), wait=WAITS)
    def pull_all(self, n: int, tool: str, wait: int) -> None:
        for number in PASSES:
            self.pull(n, number, tool, True, "unstated", wait)

    @rule(n=st.sampled_from(FASTENERS), tool=st.sampled_from(("TW-1", "TW-4")), wait=WAITS,
          event=st.sampled_from(("loosen", "remove", "step")))  # fmt: skip
    def loosen(self, n: int, tool: str, event: str, wait: int) -> None:
        self.clock += wait
        self._record(n, 2, tool, "undone", direction="loosen", event=event)

    @rule(numbers=st.sampled_from(((1,), (2,), (1, 2))), kind=st.sampled_from(("loosened", "removed", "disturbed")),
          unsure=st.sampled_from((0.0, 0.0, 7200.0)), wait=WAITS)  # fmt: skip
    def undo(self, numbers: tuple[int, ...], kind: str, unsure: float, wait: int) -> None:
        self.clock += wait
        self._tell(kind, "undone", numbers, unsure=unsure)

    @rule(n=st.sampled_from(FASTENERS), wait=WAITS)
    def loose(self, n: int, wait: int) -> None:
        self.clock += wait
        self._tell("as found", "undone", (n,), leaking="no", marks="broken", loose=str(n))
        self.entries[-1] = replace(self.entries[-1], fasteners=())

    @rule(n=st.sampled_from(FASTENERS), what=st.sampled_from(("new nut", "new nut", "used nut")), wait=WAITS)
    def parts(self, n: int, what: str, wait: int) -> None:
        self.clock += wait
        self._tell("parts fitted", what, (n,), part="nut", condition=what.split()[0])

    @rule(n=st.sampled_from(FASTENERS), what=st.sampled_from(LOCKS), wait=WAITS)
    def lock(self, n: int, what: str, wait: int) -> None:
        self.clock += wait
        if what == "mark":
            self._tell("mark made", what, (n,))
        else:
            self._tell("locking fitted", what, (n,), device="Wire")

    @rule(numbers=st.sampled_from(((1,), (2,), ())), right=st.booleans(), by=st.sampled_from((OTHER, OTHER, OPERATOR)),
          wait=WAITS)  # fmt: skip
    def check(self, numbers: tuple[int, ...], right: bool, by: str, wait: int) -> None:
        self.clock += wait
        what = "undone" if not right else "seen" if by == OTHER else "own word"
        self._tell("checked", what, numbers, by, seen="all", result="in order" if right else "not in order")

    @rule(n=st.sampled_from(FASTENERS), gate=st.sampled_from(EXCEPTED), wait=WAITS)
    def exception(self, n: int, gate: str, wait: int) -> None:
        self.clock += wait
        self._tell("exception", f"exception {gate}", (n,), gate=gate, authority="the engineer who answers for it")

    @rule(numbers=st.sampled_from(((1,), (2,), (1, 2))), slip=st.sampled_from(SLIPS),
          kind=st.sampled_from(("", "", "removed", "disturbed", "loosen")), tool=st.sampled_from(("TW-1", "TW-4")),
          late=st.booleans())  # fmt: skip
    def put_back(self, numbers: tuple[int, ...], kind: str, slip: str, tool: str, late: bool) -> None:
        """Undone and put back with all that is asked, but for one slip. `late`: the parts are stated at the end."""
        for n in numbers:
            if kind == "loosen":
                self.loosen(n, tool, "loosen", 3600)
            elif kind:
                self.undo((n,), kind, 7200.0 if slip == "unsure" else 0.0, 3600)
        wait = 20 if slip == "at once" else 3600
        by = OPERATOR if slip == "own word" else OTHER
        steps = {
            "parts": lambda: [self.parts(n, "used nut" if slip == "used" else "new nut", wait) for n in numbers],
            "first": lambda: [self.pull(n, 1, tool, True, "unstated", wait) for n in numbers],
            "last": lambda: [self.pull(n, 2, tool, slip != "low", "unstated", wait) for n in numbers],
            "locking": lambda: [self.lock(n, "locking", wait) for n in numbers],
            "mark": lambda: [self.lock(n, "mark", wait) for n in numbers],
            "check": lambda: [self.check((n,), slip != "not in order", by, wait) for n in numbers],
        }  # fmt: skip
        order = [*list(steps)[1:], "parts"] if late else list(steps)
        for name, step, ahead in (("checked first", "check", "locking"), ("locked first", "locking", "last"),
                                  ("marked first", "mark", "last")):  # fmt: skip
            if slip == name:
                order.remove(step)
                order.insert(order.index(ahead), step)
        for step in order:
            if step != slip:
                steps[step]()

    @precondition(lambda self: self.proof is not None and self.proof.open_flags)
    @rule(dice=st.randoms(use_true_random=False), many=st.booleans())
    def somebody_decides(self, dice: Random, many: bool) -> None:
        assert self.proof is not None
        # that a record is of another joint would be another life
        actions = [action for action in ACTIONS if action != "not this joint"]
        self.clock += 3600
        flags = list(self.proof.open_flags)
        for flag in flags if many else [dice.choice(flags)]:
            action = dice.choice(actions)
            self.given.append(disposed(flag, action, hours=self.clock / 3600))
            if action == "superseded":
                self.away |= set(flag.records)

    def _prove(self, *more: Entry, decided: list[Disposition] | None = None) -> Proof:
        around = Surroundings(entries=(*self.entries, *more))
        return prove(self.plan, self.records, around=around, dispositions=decided or self.given)

    def _willing(self, proof: Proof) -> tuple[Proof, list[Disposition]]:
        """The proof once a person has decided on all that the rules leave to a person, as far as they go."""
        decided = list(self.given)
        for turn in range(3):
            for flag in proof.open_flags:
                allowed = [action for action in WILLING if action in RULES[flag.code].closed_by]
                decided += [disposed(flag, action, hours=self.clock / 3600 + 1 + turn) for action in allowed[:1]]
            proof = self._prove(decided=decided)
        return proof, decided

    @invariant()
    def no_release_with_a_debt_open(self) -> None:
        if not hasattr(self, "plan"):
            return
        proof = self.proof = self._prove()
        self._no_debt(proof, self.given)
        if proof.open_flags:
            self._no_debt(*self._willing(proof))
        dice = Random(len(self.records) * 1000 + len(self.entries))
        pulled, said, decided = list(self.records), list(self.entries), list(self.given)
        for facts in (pulled, said, decided):
            dice.shuffle(facts)  # type: ignore[arg-type]
        mixed = prove(self.plan, pulled, around=Surroundings(entries=tuple(said)), dispositions=decided)
        assert mixed == proof

    def _no_debt(self, proof: Proof, decided: list[Disposition]) -> None:
        decision = decide(self.plan, proof)
        if not decision.signable:
            return
        owed = self.account.owed(self.asked, self.away)
        assert not owed - {"fault"}, (owed, [f.text for f in proof.flags])
        assert not any(state.debts for state in proof.states)
        assert "fault" not in owed or decision.state == "released with follow-up"
        # one more loosening takes the release away, whatever was decided before
        for kind in ("loosened", "disturbed"):
            last = entry(kind, self.clock / 3600 + 1, fasteners=(2,), seq=10_000)
            assert not decide(self.plan, self._prove(last, decided=decided)).signable


TestLives = Lives.TestCase
TestLives.settings = settings(
    max_examples=60, stateful_step_count=12, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)


def test_the_account_itself_finds_what_is_owed() -> None:
    """A test of the test: a joint that is done owes nothing, and each thing taken away from it is owed."""
    asked = {"parts", "locking", "mark", "check"}
    facts = []
    for n in FASTENERS:
        facts += [Fact(0, "undone", (n,)), Fact(100, "new nut", (n,))]
        facts += [Fact(900, what, (n,)) for what in LOCKS]
        facts += [Fact(200.0 * p + n, "pull", (n,), "TW-1", 0.0, f"{n} {p}", p) for p in PASSES]
        facts += [Fact(1000, "seen", (n,))]
    assert Account(facts).owed(asked, set()) == set()
    for gone in facts:
        owed = Account([f for f in facts if f is not gone]).owed(asked, set())
        assert bool(owed) == (gone.what != "undone"), gone
    assert Account([*facts, Fact(2000, "undone", (1,))]).owed(asked, set()) == {
        "tightening 1", "parts 1", "locking 1", "mark 1", "check 1",
    }  # fmt: skip
