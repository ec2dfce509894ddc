"""From a register to instruments: chains, candidates, events, evidence, and the simple register beside it."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from evenpull.equipment import Holdings, read_certificates
from evenpull.equipment.events import open_events
from evenpull.equipment.simple import one_after_the_other
from evenpull.instrument.assembly import budget_of, setting_of
from evenpull.instrument.candidate import PassValue
from evenpull.instrument.fitness import fitness
from evenpull.instrument.interval import ISO_6789
from evenpull.instrument.parts import ChainError
from evenpull.instrument.period import suspect_period
from evenpull.instrument.validity import last_day, overlaps
from evenpull.plan import read_tools
from evenpull.plan.settings import setting_for
from evenpull.quantities import to_si
from tests.equipment.files import ALL_POINTS, CERTIFICATES, DAY, HYDRAULIC, certificate, entry, on, store
from tests.plan.files import TOOLS

PULL = PassValue("pass 3", 1500.0, 1400.0, 1600.0)


def test_a_chain_is_one_instrument_with_one_uncertainty() -> None:
    """Wrench and multiplier 13.2: at 1320 N.m the wrench stands at 100 N.m. By hand, root of the sum of squares (GUM
    eq. 10): w of the certificate 1.2/2 = 0.6 %, resolution 1/(2 sqrt 3)/100 = 0.2887 %, ratio 3/2 = 1.5 %."""
    one = store().chain("CH-0007", DAY)
    assert one.ratio == 13.2 and one.name == "TW-0301 + TM-0051"
    by_hand = math.sqrt(0.006**2 + (1 / (2 * math.sqrt(3)) / 100) ** 2 + 0.015**2)
    assert budget_of(one, 1320.0).u == pytest.approx(by_hand, rel=1e-9)


def test_without_a_certificate_the_permissible_deviation_is_the_uncertainty() -> None:
    """Anywhere within +-4 %: 4/sqrt 3 = 2.309 % (GUM 4.3.7)."""
    assert replace(store(), calibrations={}).chain("TW-0301").driver.w == pytest.approx(0.0230940, abs=1e-7)


def test_a_chain_of_chains_and_one_that_contains_itself() -> None:
    held = store()
    nested = replace(held, assemblies={**held.assemblies, "X": replace(held.assemblies["CH-0007"], serial="X",
                                                                       parts=("CH-0007",))})
    assert nested.chain("X").serials == ("TW-0301", "TM-0051")
    assert nested.used_in("TW-0301") == ("CF-0007", "CH-0007", "X")
    looped = replace(nested, assemblies={**nested.assemblies, "CH-0007": replace(held.assemblies["CH-0007"],
                                                                                 parts=("X", "TM-0051"))})
    with pytest.raises(ChainError, match="contains itself: X - CH-0007 - X"):
        looped.chain("X")
    assert looped.used_in("TM-0051") == ("CH-0007", "X")  # no endless search


def test_a_chain_that_is_not_complete_is_named() -> None:
    held = store()
    lacking = replace(held, items={k: v for k, v in held.items.items() if k != "TM-0051"})
    with pytest.raises(ChainError, match="TM-0051 is not in the register"):
        lacking.chain("CH-0007")
    found = lacking.candidate("CH-0007", DAY)
    assert found.missing == ("TM-0051 is not in the register",)
    assert lacking.as_tools("CH-0007") == ()
    assert any("not complete" in text for text in fitness(found, [PULL], DAY, None).refusals)
    with pytest.raises(ChainError, match="no driver"):
        held.candidate("CD-0001", DAY)


def test_a_candidate_carries_what_fitness_asks() -> None:
    held = store().with_entries({"TW-0301": [entry("use count", on(4, 1), counter="1700")]})
    found = held.candidate("CH-0007", DAY)
    assert (found.cycles, found.cycles_allowed) == (500, 5000)
    assert found.serves == "B"  # the multiplier may serve B and below
    assert found.directions == ("clockwise",)  # the multiplier does not turn back
    assert [one.id for one in found.certificates] == ["KNC-26-0412"]
    assert [one.id for one in found.part_certificates["TM-0051"]] == ["KNC-26-0413"]
    judged = fitness(found, [replace(PULL, lower=1350.0, upper=1650.0)], DAY, "B")
    assert judged.fit, judged.refusals
    assert "class A" in fitness(found, [PULL], DAY, "A").refusals[0]
    # left reading 1 % high, so a pull set to 1500 N.m gives about 1485 N.m
    assert judged.passes[0].expected == pytest.approx(judged.passes[0].setting.torque / 1.01)  # type: ignore[union-attr]


def test_a_count_that_is_not_known_ends_the_interval() -> None:
    held = store()
    assert held.cycles("TW-0301", DAY) is None
    assert "not known" in fitness(held.candidate("TW-0301", DAY), [PassValue("p", 100, 90, 110)], DAY, None).refusals[0]
    due = held.due("TW-0301", DAY)
    assert due is not None and due.over and due.last_day == date(2027, 3, 1)
    gone_back = held.with_entries({"TW-0301": [entry("use count", on(4, 1), counter="1100")]})
    assert gone_back.cycles("TW-0301", DAY) is None


@pytest.mark.parametrize(("later", "open_"), [
    ((), "dropped or abused"),
    ((entry("shift check", on(4, 11), set="100 N.m", device_value="99 N.m", device="CD-0001", result="within limits"),),
     "dropped or abused"),  # its interval rule says that a drop ends the calibration
    ((entry("tool unblocked", on(4, 11), reason="seen", evidence="looked at"),), "dropped or abused"),
])
def test_a_drop_ends_the_calibration_where_the_rule_says_so(later: tuple, open_: str) -> None:  # type: ignore[type-arg]
    held = store().with_entries({"TW-0301": [entry("tool dropped", on(4, 10), what="from 2 m"), *later]})
    for serial in ("TW-0301", "CH-0007"):  # and with it that of the chain
        (words,) = held.candidate(serial, DAY).events
        assert open_ in words and "KN-Q-011" in words
    assert held.candidate("CH-0007", DAY).events[0].startswith("TW-0301: ")
    assert held.candidate("TW-0301", date(2026, 4, 9)).events == ()


def test_what_settles_an_event() -> None:
    drop = entry("tool dropped", on(4, 10), what="from 2 m")
    good = entry("shift check", on(4, 11), set="1 N.m", device_value="1 N.m", device="d", result="within limits")
    bad = entry("shift check", on(4, 12), set="1 N.m", device_value="2 N.m", device="d", result="outside limits")
    block = entry("tool blocked", on(4, 10), reason="waits for the laboratory")
    repair = entry("tool repaired", on(4, 13), what="new spring", adjusted="yes")
    end = on(5, 1).timestamp()
    assert open_events([drop, good], None, None, end) == ()
    assert len(open_events([drop, good], None, ISO_6789, end)) == 1
    assert open_events([block, good], None, None, end)[0].startswith("blocked since 2026-04-10")
    assert "outside its limits" in open_events([good, bad], None, None, end)[0]
    # a calibration settles all but a block; a repair of its own day counts as before it, a drop as after it
    assert open_events([drop, bad, repair], date(2026, 4, 13), ISO_6789, end) == ()
    assert len(open_events([drop], date(2026, 4, 10), ISO_6789, end)) == 1
    assert len(open_events([block, drop], date(2026, 4, 20), ISO_6789, end)) == 1


def test_evidence_in_time_for_a_review() -> None:
    good = entry("shift check", on(4, 11), set="1 N.m", device_value="1 N.m", device="d", result="within limits")
    found = store().with_entries({"TW-0301": [good]}).evidence("CH-0007")
    assert [(e.kind, e.direction, e.good) for e in found] == [
        ("certificate", "clockwise", True), ("certificate", "anticlockwise", True), ("shift check", None, True)]
    period = suspect_period(found, on(5, 1).timestamp(), "anticlockwise")
    assert period.since is not None and period.since.kind == "shift check"
    assert period.start == on(4, 11).timestamp() - 60  # the earliest moment it can have been


def test_as_found_5_percent_high_is_out_and_left_1_percent_is_within() -> None:
    """Against +-4 % by simple acceptance; probabilities by hand with u = 0.6 %: outside at 5 %: (5 - 4)/0.6 = 1.667,
    Phi(-1.667) = 4.78 % (standard normal table); at 1 %: (4 - 1)/0.6 = 5, no figure short of 100 %."""
    (one,) = store().calibrations["TW-0301"]
    found, left = one.judged("as found"), one.judged("as left")
    assert found is not None and not found.accepted and left is not None and left.accepted
    assert found.points[0].decision.probability == pytest.approx(0.0478, abs=1e-4)
    assert left.points[0].decision.probability > 0.999999


def test_a_chain_seen_as_a_simple_tool() -> None:
    held = store()
    (tool,) = held.as_tools("CH-0007")
    assert (tool.serial, tool.certificate, tool.multiplier_ratio) == ("CH-0007", "KNC-26-0412 + KNC-26-0413", 13.2)
    assert (tool.certificate_from, tool.certificate_until) == (date(2026, 3, 2), date(2027, 3, 1))
    # the same setting by both ways
    plain = setting_for(tool, 1, 1500.0, (1400.0, 1600.0), DAY)
    assert plain.problems == () and plain.digits == setting_of(held.chain("CH-0007"), 1500.0).digits == "114"
    (crow,) = held.as_tools("CF-0007")
    assert setting_for(crow, 1, 180.0, (170.0, 190.0), DAY).digits == setting_of(held.chain("CF-0007"), 180.0).digits
    assert held.as_tool("CH-0007", held.certificates("CH-0007")[0]) == tool
    assert held.as_tools("CD-0001") == ()


def test_a_hydraulic_set_is_dialled_in_its_pressure() -> None:
    """c = 2600 N.m/650 bar = 4 N.m/bar: 1500 N.m is 375 bar (by hand); bar = 1e5 Pa exactly."""
    held = store('form = "evenpull certificates 1"\n' + HYDRAULIC)
    one = held.chain("HS-0041")
    assert one.driver.torque_per_pressure == pytest.approx(4 / 1e5)
    (tool,) = held.as_tools("HS-0041")
    assert held.as_tools("HW-0041") == ()  # without pump and gauge it is no instrument
    found = setting_for(tool, 2, 1500.0, (1450.0, 1550.0), DAY)
    assert (found.digits, found.unit, found.problems) == ("375", "bar", ())
    assert tool.resolution.si == pytest.approx(20.0)  # a step of 5 bar
    beyond = setting_for(tool, 2, 2700.0, (2600.0, 2800.0), DAY).problems
    assert any("above its scale" in text for text in beyond)
    assert any("above the scale of its gauge" in t for t in setting_for(tool, 2, 2850.0, (2700, 3000), DAY).problems)
    assert held.candidate("HS-0041", DAY).part_certificates["HP-0041"] == ()


def test_a_chain_is_calibrated_while_all_its_parts_are() -> None:
    text = CERTIFICATES.replace('number = "KNC-26-0413"\ncalibrated = 2026-03-02\nvalid_until = 2027-03-01',
                                'number = "KNC-26-0413"\ncalibrated = 2026-06-01\nvalid_until = 2026-11-30')
    held = store(text)
    assert held.in_force("CH-0007") == ((date(2026, 6, 1), date(2026, 11, 30), ("KNC-26-0412", "KNC-26-0413")),)
    assert store('form = "evenpull certificates 1"\n' + certificate()).as_tools("CH-0007") == ()
    with pytest.raises(ValueError, match="at no time"):
        held.as_tool("CH-0007", held.certificates("TM-0051")[0])


def test_limits_on_use_narrow_the_scale() -> None:
    limit = '\n[[certificate.limit]]\nrange = ["60 N.m", "180 N.m"]\nreason = "6 % high below 60 N.m"\n'
    held = store('form = "evenpull certificates 1"\n' + certificate(points=limit + ALL_POINTS))
    (tool,) = held.as_tools("TW-0301")
    assert (tool.lower.si, tool.upper.si) == (60, 180)
    assert held.limits("TW-0301", DAY)[0].reason == "6 % high below 60 N.m"
    assert held.limits("TW-0301", date(2026, 1, 1)) == ()
    refused = fitness(held.candidate("TW-0301", DAY, 10), [PassValue("p", 50, 45, 55)], DAY, None).refusals
    assert any("limited to 60 N·m to 180 N·m" in text for text in refused)


def test_the_simple_register_seen_as_holdings() -> None:
    tools = read_tools(TOOLS, "tools.toml")
    held = Holdings.from_tools(tools)
    for tool in tools:
        one = held.chain(tool.serial)
        assert setting_of(one, 300.0).digits == setting_for(tool, 1, 300.0, (1.0, 999.0), DAY).digits
        found = held.candidate(tool.serial, DAY)
        assert found.stated_W == tool.uncertainty and found.certificates[0].points == ()
    judged = fitness(held.candidate("TW-0219", DAY), [PassValue("p", 300, 270, 330)], DAY, None)
    assert judged.fit and "as stated for the whole scale" in judged.passes[0].reasons[-1].words


def test_renewed_entries_of_the_simple_register_follow_one_another() -> None:
    (tool, _) = read_tools(TOOLS, "tools.toml")
    renewed = replace(tool, certificate="NEW", certificate_from=date(2026, 9, 1), certificate_until=date(2027, 8, 31))
    within = replace(tool, certificate="IN", certificate_from=date(2026, 5, 1), certificate_until=date(2026, 5, 31))
    found = Holdings.from_tools([renewed, within, tool]).certificates("TW-0219")
    assert [(one.id, one.replaces) for one in found] == [(tool.certificate, ""), ("IN", tool.certificate), ("NEW", "")]
    assert overlaps(found) == ()


def test_both_registers_together() -> None:
    """A certificate with points counts before an entry of the simple register with its number or its first day; else
    the later ends the earlier."""
    (tool, _) = read_tools(TOOLS, "tools.toml")
    same = replace(tool, serial="TW-0301", certificate="KNC-26-0412")
    earlier = replace(same, certificate="OLD", certificate_from=date(2025, 6, 1), certificate_until=date(2026, 5, 31))
    later = replace(same, certificate="LATER", certificate_from=date(2026, 8, 1), certificate_until=date(2027, 7, 31))
    twin = replace(same, certificate="TWIN", certificate_from=date(2026, 3, 2))
    held = store().joined([same, earlier, later, twin])
    found = held.certificates("TW-0301")
    assert [(one.id, last_day(one, found), bool(one.points)) for one in found] == [
        ("OLD", date(2026, 3, 1), False), ("KNC-26-0412", date(2026, 7, 31), True), ("LATER", date(2027, 7, 31), False)]
    assert overlaps(found) == ()
    assert held.items["TW-0301"].name == "Indicating torque wrench with dial"


def test_units_of_a_certificate_are_converted_exactly() -> None:
    """1 lbf.ft = 0.45359237 x 9.80665 x 0.3048 N.m (exact definitions of pound, standard gravity and foot)."""
    text = ('form = "evenpull certificates 1"\n' + certificate()).replace('unit = "N.m"', 'unit = "lbf.ft"')
    (one,) = read_certificates(text, "c.toml")
    assert one.certificate.points[0].nominal == pytest.approx(40 * 0.45359237 * 9.80665 * 0.3048, rel=1e-12)
    assert one.certificate.points[0].a == pytest.approx(0.05)
    assert one.unit == "lbf.ft" and to_si(1, one.unit, "torque") == pytest.approx(1.3558179483, rel=1e-10)


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40), st.booleans()), max_size=6))
def test_the_two_registers_never_overlap(spans: list[tuple[int, int, bool]]) -> None:
    """Whatever days entries of the simple register have, among certificates with points that do not overlap."""
    (one,) = store().calibrations["TW-0301"]
    made = []
    for number, (first, length, points) in enumerate(spans):
        begin = date(2026, 1, 1) + timedelta(days=first)
        days = {"calibrated": begin, "valid_from": begin, "valid_until": begin + timedelta(days=length)}
        own = replace(one.certificate, id=f"C{number}", points=one.certificate.points if points else (), **days)
        made.append(replace(one, certificate=own))
    assume(overlaps([c.certificate for c in made if c.certificate.points]) == ())  # else refused when it was added
    kept = one_after_the_other(made)
    assert overlaps([c.certificate for c in kept]) == ()
    assert {c.number for c in made if c.certificate.points} <= {c.number for c in kept}
