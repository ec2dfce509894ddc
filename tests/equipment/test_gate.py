"""The fitness gate: pulls of a plan against tools of the register. Every reason once, at issue; the order; what is not
known. Arithmetic by hand stands beside each case; names and numbers are invented."""

from __future__ import annotations

import csv
import json
import math
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from statistics import NormalDist

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenpull.card import CardRefused, make_card, make_serial
from evenpull.card.content import _setting_line
from evenpull.card.tool_choice import choose_tools
from evenpull.equipment import Assembly, Holdings, Item, read_certificates
from evenpull.equipment.gate import Table, pull_values
from evenpull.equipment.issue import at_hand, not_fit, told
from evenpull.equipment.tool_fitness import ToolFitness
from evenpull.instrument.candidate import PassValue, UseLimit
from evenpull.instrument.interval import IntervalRule
from evenpull.instrument.parts import Adapter, Driver
from evenpull.plan import Plan, make_plan
from evenpull.quantities import to_si
from tests.equipment.files import CERTIFICATES, DAY, EQUIPMENT, HYDRAULIC, certificate, entry, on, point, store
from tests.equipment.fit import held, plan, simple

NEXT = date(2027, 6, 1)
DROPPED = entry("tool dropped", on(4, 10), what="from 2 m")


def table(known: Holdings, at: Plan, day: date = DAY, until: date | None = None) -> Table:
    return ToolFitness(known).table(at, day, until)


def certified(*points: str, serial: str = "TW-0301", more: str = "") -> Holdings:
    """The store with other certificate points of the wrench."""
    text = 'form = "evenpull certificates 1"\n' + certificate(serial, more="counter = 1200\n" + more,
                                                              points="".join(points))
    own = read_certificates(text, "c.toml")
    return replace(held(), calibrations={**held().calibrations, serial: own})


def driver(**changes: float) -> Holdings:
    part = store().items["TW-0301"].part
    assert isinstance(part, Driver)
    return held(part=replace(part, **changes))


def test_every_pull_value_stands_once_with_its_window() -> None:
    """150 N.m in 40, 70 and 100 %, +-5 %: 60 (57 to 63), 105 (99.75 to 110.25), 150 (142.5 to 157.5), check pass."""
    found = pull_values(plan())
    assert [(v.pass_number, v.value.torque) for v in found] == [(1, 60.0), (2, 105.0), (3, 150.0), (4, 150.0)]
    assert (found[1].value.lower, found[1].value.upper) == (99.75, 110.25)
    assert {v.value.direction for v in found} == {"clockwise"}


def test_own_settings_of_fasteners_are_values_of_their_own() -> None:
    """Settings of 100 %, and 110 % on two fasteners: the last pass has 150 N.m for 14 fasteners and 165 for two."""
    rows = [100.0] * 16
    rows[3] = rows[8] = 110.0
    found = [v for v in pull_values(plan(settings=f"[[40], [70], {rows}]")) if v.pass_number == 3]
    assert [(v.value.torque, len(v.fasteners)) for v in found] == [(150.0, 14), (165.0, 2)]
    assert found[1].fasteners == (4, 9) and found[1].value.name.endswith("fasteners 4, 9")


def test_a_fit_tool_by_hand() -> None:
    """Left reading 1 % high, W = 1.2 %, steps of 1 N.m, set to 60: expected 60/1.01 = 59.4059; w = root(0.6^2 +
    (100/60/3.4641)^2) % = root(0.36 + 0.231481) % = 0.769078 %, u = 0.456878; to the lower limit 57: 2.40594/0.456878 =
    5.26605 u, to the upper 63: 7.86636 u. Risk Phi(-5.26605) + Phi(-7.86636) = 6.97e-8."""
    one = ToolFitness(held()).judged("TW-0301", pull_values(plan()), DAY, "B")
    assert one.fit and one.refusals == () and one.notes == ()
    pull, first = one.passes[0]
    assert first.setting is not None and first.setting.digits == "60" and pull.value.torque == 60
    assert first.expected == pytest.approx(59.405941) and first.u == pytest.approx(0.456878, abs=1e-6)
    phi = NormalDist().cdf
    assert first.risk == pytest.approx(phi(-5.26605) + phi(-7.86636), rel=1e-3)
    assert one.risk == first.risk  # the worst of its pulls


def test_the_adapter_changes_the_setting_and_the_hand_matters() -> None:
    """480 mm lever, 60 mm straight out: 150 * 480/540 = 133.333, set 133; 10 mm of hand towards the drive is (470 +
    60)/470 / (540/480) - 1 = +0.2364 %."""
    one = ToolFitness(held()).judged("CF-0007", pull_values(plan()), DAY, "B")
    last = one.passes[2][1]
    assert one.fit and last.setting is not None and last.setting.digits == "133"
    assert last.setting.hand_sensitivity == pytest.approx(530 / 470 / 1.125 - 1, rel=1e-9)
    assert "hand 10 mm" in " ".join(r.words for r in last.reasons)


@pytest.mark.parametrize(("known", "day", "serial", "words"), [
    (replace(held(), items={k: v for k, v in held().items.items() if k != "AD-0007"}), DAY, "CF-0007",
     "the chain is not complete: AD-0007 is not in the register"),
    (held(), DAY, "TW-9999", "TW-9999 is not in the register"),
    (held(), date(2026, 3, 1), "TW-0301", "2026-03-01 is before the first certificate KNC-26-0412"),
    (held(), NEXT, "TW-0301", "certificate KNC-26-0412 ran out on 2027-03-01, before 2027-06-01"),
    (held({"TW-0301": (entry("use count", on(4, 1), counter="6300"),)}), DAY, "TW-0301", "5100 of 5000 cycles"),
    (held({"TW-0301": ()}), DAY, "TW-0301", "how many it has made is not known: read its counter"),
    (held({"TW-0301": (*held().entries["TW-0301"], DROPPED)}), DAY, "TW-0301", "dropped or abused on 2026-04-10"),
    (held({"TW-0301": (*held().entries["TW-0301"], entry("tool blocked", on(4, 10), reason="found outside"))}), DAY,
     "TW-0301", "blocked since 2026-04-10"),
    (held({"TW-0207": (entry("shift check", on(4, 10), result="outside limits"),)}), DAY, "TW-0207",
     "outside its limits in the shift check"),
    (held({"AD-0007": (entry("tool dropped", on(4, 10), "AD-0007", what="bent"),)}), DAY, "CF-0007",
     "AD-0007: dropped or abused"),
    (held(interval=IntervalRule(1, 5000, (), "KN-Q-012")), DAY, "TW-0301",
     "its interval is over: 1 months from 2026-03-02 ended on 2026-04-01"),
    (held(serves="C"), DAY, "TW-0301", "the joint is of class B, the tool may serve class C"),
    (held(serves=None), DAY, "TW-0301", "the joint is of class B; which class the tool may serve is not stated"),
])
def test_what_stands_against_every_pull(known: Holdings, day: date, serial: str, words: str) -> None:
    at = plan((serial, "BS-7"))
    one = table(known, at, day).of(serial)
    assert one is not None and not one.fit and one.passes_fit == ()
    assert any(words in text for text in one.whole), one.whole
    assert words in refusal(known, at, day, serial)


@pytest.mark.parametrize(("known", "at", "number", "words"), [
    (held(directions=("anticlockwise",)), plan(), 1, "to be turned clockwise, the tool turns anticlockwise"),
    (held(), plan(passes="[20, 70, 100]"), 1, "30 N·m is below the lowest marked value of driver TW-0301"),
    (held(), plan(torque="210 N.m", passes="[40, 70, 100]"), 3, "210 N·m is above the end of driver TW-0301"),
    (held(limits=(UseLimit(100, 200, "nothing below was calibrated"),)), plan(), 1,
     "limited to 100 N·m to 200 N·m (nothing below was calibrated); here 60 N·m"),
    (driver(resolution=25.0), plan(), 1, "that gives 50 N·m (-16.67 %), outside the window 57 N·m to 63 N·m"),
    (certified(point("as left", 40, 40, "anticlockwise"), point("as left", 200, 200, "anticlockwise")), plan(), 1,
     "certificate KNC-26-0412 has no points turned clockwise: cannot be judged"),
    (certified(point("as left", 90, 90), point("as left", 200, 200)), plan(), 1,
     "60 N·m is outside the points of the certificate, 90 N·m to 200 N·m: cannot be judged"),
    # reads 4.712 % high: 60 shown are 57.3, u = 0.769078 % = 0.440682; 0.3/0.440682 = 0.68076 u: Phi(-0.68076) = 24.8 %
    (certified(point("as left", 40, 38.2), point("as left", 200, 191)), plan(), 1,
     "probability of a false acceptance 25 %, 5 % allowed"),
])
def test_what_stands_against_single_pulls(known: Holdings, at: Plan, number: int, words: str) -> None:
    one = table(known, at).of("TW-0301")
    assert one is not None and not one.fit
    assert any(words in text for text in one.against(number)), one.refusals
    alone = plan(("TW-0301",), passes=f"[{', '.join(f'{p.percent:g}' for p in at.passes if not p.check)}]",
                 torque="210 N.m" if "210" in words else "150 N.m")
    assert words in refusal(known, alone, DAY, "TW-0301")


def refusal(known: Holdings, at: Plan, day: date, serial: str) -> str:
    """What a card for this tool alone is refused with."""
    found = table(known, at, day)
    when = datetime(2026, 4, 15, 8, tzinfo=UTC)
    with pytest.raises(CardRefused) as caught:
        make_card(told(at, found), serial=make_serial(at.spec.id, 1), issued_at=when, valid_until=when.replace(hour=20),
                  tools=[serial], not_fit=not_fit(found), at_hand=at_hand(found))
    return str(caught.value)


def test_the_risk_of_a_coarse_tool_by_hand() -> None:
    """U = 5.2 % of the reading and steps of 1 N.m at 150: w = root(2.6^2 + (100/150/3.4641)^2) % = root(6.76 +
    0.037037) % = 2.607113 %, u = 3.910670; +-7.5 N.m are 1.917830 u, risk 2 Phi(-1.917830) = 5.51 %. With U = 5.0 %:
    w = 2.507396 %, 7.5/3.761094 = 1.994101, risk 4.61 %: fit at 150."""
    coarse = table(simple("5.2 %"), plan(("TW-0207",))).of("TW-0207")
    assert coarse is not None and not coarse.fit
    last = coarse.passes[2][1]
    assert last.risk == pytest.approx(2 * NormalDist().cdf(-1.917830), rel=1e-5)
    assert "probability of a false acceptance 5.5 %, 5 % allowed" in coarse.against(3)[0]
    better = table(simple("5.0 %"), plan(("TW-0207",))).of("TW-0207")
    assert better is not None and better.passes[2][1].risk == pytest.approx(2 * NormalDist().cdf(-1.994101), rel=1e-5)
    assert better.passes[2][1].fit


def test_the_refusal_names_the_fit_tools_in_their_order_and_the_others_apart() -> None:
    words = refusal(held(serves="C"), plan(("TW-0301", "TW-0207")), DAY, "TW-0301")
    assert words.startswith("no job card for KN-CW-014: TW-0301 is not fit for KN-CW-014: the joint is of class B")
    hand = words.split("Fit for every pull and at hand")[1]
    assert "1. TW-0207" in hand and "TW-0301 (" not in hand
    bare = refusal(held({"TW-0301": ()}), plan(("TW-0301",)), DAY, "TW-0301")
    assert "No allowed tool is fit for every pull" in bare
    assert "Would be fit, but the specification does not allow it" in bare and "1. TW-0207" in bare


def test_two_tools_may_share_a_card_that_neither_could_do_alone() -> None:
    """30, 105 and 150 N.m: TW-0207, here from 8 to 60 N.m, is fit for the first pass, TW-0301 (from 40) for others."""
    part = held().items["TW-0207"].part
    assert isinstance(part, Driver)
    small = replace(held().items["TW-0207"], part=replace(part, lower=8.0, upper=60.0, resolution=0.2))
    known = replace(held(), items={**held().items, "TW-0207": small})
    asked = plan(("TW-0301", "TW-0207"), passes="[20, 70, 100]")
    at = make_plan(asked.spec, [tool for serial in ("TW-0301", "TW-0207") for tool in known.as_tools(serial)], DAY)
    found = table(known, at)
    assert not found.fit and {one.serial: one.passes_fit for one in found.refused} == {
        "TW-0301": (2, 3, 4), "TW-0207": (1,)}
    assert not_fit(found) == {}  # each is fit in some pass
    assert choose_tools(told(at, found), ["TW-0301", "TW-0207"], not_fit(found)).unfit == ()
    words = refusal(known, at, DAY, "TW-0301")
    assert "no tool of this card can do pass 1 of 3 (20 %)" in words and "below the lowest marked value" in words
    line = next(s for s in told(at, found).passes[0].settings if s.tool == "TW-0301")
    assert "below the lowest marked value" in line.problems[0]


def test_a_tool_whose_certificate_ends_before_the_card_is_not_fit_for_it() -> None:
    one = table(held(), plan(), date(2027, 3, 1), date(2027, 3, 2)).of("TW-0301")
    assert one is not None and one.fitness is not None and one.fitness.fit and not one.fit
    ended = "driver TW-0301: certificate KNC-26-0412 ran out on 2027-03-01, before 2027-03-02"
    over = "its interval is over: 12 months from 2026-03-02 ended on 2027-03-01"
    assert one.whole == (f"by 2027-03-02: {ended}", f"by 2027-03-02: {over}")
    assert table(held(), plan(), date(2027, 3, 1)).of("TW-0301").fit  # type: ignore[union-attr]


def test_the_simple_register_has_no_class_and_that_is_said_not_refused() -> None:
    one = table(held(), plan(("TW-0207",), joint_class="A")).of("TW-0207")
    assert one is not None and one.fit
    assert "the joint is of class A; the tool stands in the simple register" in one.notes[0]
    assert "no deviation is known" in one.notes[1]


def test_a_part_that_states_a_lower_class_counts_behind_a_simple_wrench() -> None:
    """The multiplier states class B; the wrench before it stands in the simple register."""
    known = held()
    gear = replace(known.items["TM-0051"], serves="B")
    chain = replace(known.assemblies["CH-0007"], parts=("TW-0207", "TM-0051"))
    known = replace(known, items={**known.items, "TM-0051": gear}, assemblies={**known.assemblies, "CH-0007": chain})
    values = pull_values(plan(torque="1500 N.m", passes="[60, 80, 100]"))
    strict = ToolFitness(known).judged("CH-0007", values, DAY, "A")
    assert "the joint is of class A, the tool may serve class B and below" in strict.whole
    assert not any("class A" in text for text in ToolFitness(known).judged("CH-0007", values, DAY, "B").whole)


def test_a_hydraulic_set_is_set_in_the_unit_of_its_gauge() -> None:
    """2600 N.m at 650 bar are 4 N.m per bar: 1500 N.m are 375 bar."""
    known = store('form = "evenpull certificates 1"\n' + HYDRAULIC, EQUIPMENT)
    one = ToolFitness(known).judged("HS-0041", pull_values(plan(torque="1500 N.m", passes="[60, 80, 100]")), DAY, "B")
    last = one.passes[2][1]
    assert one.fit and last.setting is not None and (last.setting.digits, last.setting.unit) == ("375", "bar")


CHANGES = {
    "class": {"serves": "C"}, "class open": {"serves": None}, "direction": {"directions": ("anticlockwise",)},
    "limit": {"limits": (UseLimit(100, 200, "r"),)}, "none": {},
}


@settings(max_examples=60, deadline=None)
@given(
    change=st.sampled_from(sorted(CHANGES)), counted=st.sampled_from([None, 1300, 6300]), dropped=st.booleans(),
    allowed=st.permutations(["TW-0301", "TW-0207", "CF-0007", "TW-9999"]), count=st.integers(1, 4),
    torque=st.sampled_from([50, 110, 150, 190, 260]), tolerance=st.sampled_from(["2 %", "5 %"]),
    day=st.sampled_from([DAY, NEXT]),
)
def test_a_refused_tool_is_never_among_the_ranked(
    change: str, counted: int | None, dropped: bool, allowed: list[str], count: int, torque: int, tolerance: str,
    day: date,
) -> None:
    entries = [] if counted is None else [entry("use count", on(4, 1), counter=str(counted))]
    known = held({"TW-0301": (*entries, *([DROPPED] if dropped else []))}, **CHANGES[change])
    at = plan(tuple(allowed[:count]), torque=f"{torque} N.m", tolerance=tolerance)
    found = table(known, at, day)
    fit, refused = [p.judged for p in found.fit], found.refused
    assert sorted(one.serial for one in (*fit, *refused)) == sorted(allowed[:count])
    assert all(one.refusals == () and one.allowed for one in fit)
    assert all(one.refusals for one in refused)
    others = [p.judged for p in found.not_allowed]
    assert all(one.refusals == () and not one.allowed for one in others)
    assert not {one.serial for one in others} & set(allowed[:count])
    assert [p.place for p in found.fit] == list(range(1, len(fit) + 1))
    risks = [round((one.risk or 0.0) / 1e-4) for one in fit]
    assert risks == sorted(risks)
    said = at_hand(found)[0]
    assert all(f". {one.serial}" not in said for one in refused)


ROWS = Path(__file__).parents[1] / "reference" / "joints_dimensions.csv"


def _extensions() -> list[dict[str, str]]:
    """Published settings of wrenches with an adapter; source and status of each stand in the row."""
    with ROWS.open(encoding="utf-8", newline="") as stream:
        return [row for row in csv.DictReader(stream) if row["topic"] == "wrench_extension"]


@pytest.mark.parametrize("row", _extensions(), ids=lambda row: row["id"])
def test_published_settings_with_an_adapter(row: dict[str, str]) -> None:
    """The whole way from a chain of the register to the setting, in the unit of the row, in steps of a thousandth."""
    told = json.loads(row["inputs"])
    length = next(unit for unit in ("in", "mm") if f"L_{unit}" in told)
    torque = to_si(told["T_Nm"], "N.m", "torque") if "T_Nm" in told else to_si(told["T"], row["unit"], "torque")
    angle = told.get("angle_deg", 180.0 if "shortening" in told.get("direction", "") else 0.0)
    step = to_si(0.001, row["unit"], "torque")
    parts = {
        "W-1": Driver(serial="W-1", unit=row["unit"], lower=step, upper=10 * torque, resolution=step, w=0.01,
                      lever=to_si(told[f"L_{length}"], length, "length")),
        "A-1": Adapter(serial="A-1", length=to_si(told[f"A_{length}"], length, "length"), angle=math.radians(angle)),
    }
    items = {serial: Item(serial=serial, name="", kind="indicating" if serial == "W-1" else "adapter", part=part)
             for serial, part in parts.items()}
    known = Holdings(items=items, assemblies={"C-1": Assembly("C-1", "", ("W-1", "A-1"))})
    found = ToolFitness(known).setting("C-1", PassValue("p", torque, 0.9 * torque, 1.1 * torque), DAY)
    assert found is not None and found.setting is not None
    near = 0.5 if row["tolerance"].startswith("abs 0.5") else float(row["tolerance"].split()[1])
    assert found.setting.unit == row["unit"] and found.setting.value == pytest.approx(float(row["value"]), abs=near)


@pytest.mark.parametrize(("serial", "at", "chain", "digits", "unit"), [
    # 480 mm lever, adapter 60 mm: 150 * 480/540 = 133.3
    ("CF-0007", plan(("CF-0007",)), "TW-0301 + AD-0007, with adapter AD-0007 60 mm, at 0 deg", "133", "N·m"),
    # multiplier 13.2: 1500/13.2 = 113.6
    ("CH-0007", plan(("CH-0007",), torque="1500 N.m"), "TW-0301 + TM-0051, with multiplier 13.2 to 1", "114", "N·m"),
    # 2600 N.m at 650 bar: 1500/4 = 375
    ("HS-0041", plan(("HS-0041",), torque="1500 N.m"), "HP-0041 + HG-0041 + HW-0041", "375", "bar"),
])
def test_the_card_names_every_part_of_a_chain_with_its_setting(
    serial: str, at: Plan, chain: str, digits: str, unit: str,
) -> None:
    known = store('form = "evenpull certificates 1"\n' + CERTIFICATES.split("\n", 1)[1] + HYDRAULIC)
    (tool,) = known.as_tools(serial)
    made = make_plan(at.spec, [tool], DAY)
    line = _setting_line(tool, made.passes[2].settings[0])
    plain = line["chain"].replace("\u200b", "").replace("\u00ad", "")
    assert (plain, line["digits"], line["unit"]) == (chain, digits, unit)
