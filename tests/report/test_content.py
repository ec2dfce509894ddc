"""What the report says, read back from the PDF."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from evenpull.intake.record import Particular
from evenpull.ledger.entry import Entry
from evenpull.plan import Plan
from evenpull.proof import decide, prove
from evenpull.proof.model import Decision
from evenpull.proof.moments import moments
from evenpull.proof.surroundings import Surroundings
from evenpull.quantities import show
from evenpull.report import JointTest, Person, means, opening, release_report
from evenpull.report.context import PaperName
from evenpull.report.glyphs import covered, safe
from evenpull.report.results import followed
from evenpull.report.stated import notes
from evenpull.report.symbols import maths
from evenpull.report.words import Scale
from tests.report import fixture
from tests.report.readback import flat, ink_outside, pages, pictures

HOSTILE = (
    "#strong[x] *b* _i_ $x^2$ <label> @ref \\ \\u{41} \"quotes\" 'single' `code` // no comment /* a */ = head ~ -- "
    "Müller-Lüdenscheidt ÅÆØß žluťoučký Ωµ\nnew line\r\n\ttab \x00\x07 \u202e turned \u00ad soft "
    "王伟 🦊 \ue000 ](url) {{x}} %d ${y} <script>alert(1)</script>"
)


@pytest.fixture(scope="module")
def troubled() -> list[str]:
    return pages(release_report(*fixture.troubled(fixture.plan())))


def test_verdict_and_every_reason_stand_on_the_first_page(troubled: list[str]) -> None:
    decision = fixture.troubled(fixture.plan())[2]
    first = troubled[0]
    assert first.index("NOT RELEASED") < first.index("Why") < first.index("1 Joint")
    for text in (*decision.reasons, *decision.follow_ups):
        assert text in first
    assert first.index(decision.reasons[-1]) < first.index("1 Joint")


def test_every_page_names_joint_state_report_and_count(troubled: list[str]) -> None:
    ids = set()
    for number, page in enumerate(troubled, start=1):
        assert "KN-CW-014" in page
        assert "DRAFT, not signed" in page
        assert f"page {number} of {len(troubled)}" in page
        ids.add(page.split("report KN-CW-014 / ")[1].split()[0])
    assert len(ids) == 1


def test_signed_report_is_no_draft() -> None:
    plan = fixture.plan(8)
    records = fixture.pulls(plan)
    context = fixture.context(plan, records, signature=fixture.SIGNATURE, paper="us-letter")
    found = pages(release_report(plan, fixture.proof(plan, records), fixture.RELEASED, context))
    whole = " ".join(found)
    assert "DRAFT" not in whole
    for page in found:
        assert "Signed 2026-03-20 09:01:30 UTC" in page
    assert "RELEASED" in found[0] and "READY TO SIGN" not in whole
    assert "Signed by M. Okonjo-Reyes" in found[0]
    s = fixture.SIGNATURE
    for text in (s.meaning, s.statement, s.key_id, s.signed_sha256, context.log.root, context.log.checkpoint):
        assert text in whole
    assert s.signature in whole.replace(" ", "")


FOLLOWED = Decision("released with follow-up", ("All planned tightenings are accepted.",), ("Look again.",), True)


@pytest.mark.parametrize("decision", [fixture.RELEASED, FOLLOWED])
def test_unsigned_report_is_ready_to_sign_and_never_released(decision: Decision) -> None:
    plan = fixture.plan(4)
    records = fixture.pulls(plan)
    proof, unsigned = fixture.proof(plan, records), fixture.context(plan, records)
    found = pages(release_report(plan, proof, decision, unsigned))
    line = f"Nothing recorded stands against: {decision.state}. It takes effect only with a signature."
    first = found[0]
    assert first.index("Nobody has signed") < first.index("READY TO SIGN") < first.index(line) < first.index("Why")
    assert first.index("Why") < first.index(decision.reasons[0]) < first.index("1 Joint")
    whole = " ".join(found)
    assert "RELEASED" not in whole and "The joint is released" not in whole
    signed = fixture.context(plan, records, signature=fixture.SIGNATURE)
    verdict = opening.verdict(plan, proof, decision, signed)
    assert verdict["state"] == decision.state.upper() and "READY" not in str(verdict)


def test_a_state_that_may_not_be_signed_is_not_ready_to_sign() -> None:
    plan = fixture.plan(4)
    records = fixture.pulls(plan)
    decision = replace(fixture.RELEASED, signable=False)
    verdict = opening.verdict(plan, fixture.proof(plan, records), decision, fixture.context(plan, records))
    assert verdict["state"] == "NOT RELEASED" and "cannot be signed" in verdict["kicker"]


def test_missing_is_printed_not_left_blank(troubled: list[str]) -> None:
    whole = " ".join(troubled)
    row = whole[whole.index("4 Records: fastener by pass") :]
    row = row[row.index(" 11 1") : row.index(" 12 1")]
    assert "missing" in row
    assert "no. 11, pass 3 missing no record" in whole
    assert "N 471.5" in whole
    assert "J no torque" in whole


def test_counts_agree_with_the_proof(troubled: list[str]) -> None:
    assert "64 planned 61 accepted 1 not accepted 1 not judged 1 missing 3 open flags 2 rows not read" in troubled[0]


def test_flags_decisions_and_unread_rows(troubled: list[str]) -> None:
    _, proof, _, context = fixture.troubled(fixture.plan())
    whole = " ".join(troubled)
    for flag in proof.flags:
        assert flag.text in whole
    for disposition in proof.dispositions:
        assert disposition.reason in whole
        assert disposition.by in whole
    for row in context.unread:
        assert row.reason in whole
    assert whole.count("OPEN: no decision yet") == len(proof.open_flags) == 3
    assert "31.02.2026 13:41:00" in whole
    assert "31 February does not exist" in whole


def test_moved_fastener_and_tool_out_of_date(troubled: list[str]) -> None:
    whole = " ".join(troubled)
    assert "no. 11, pass 4 23.5° 5 deg" in whole
    assert "NO on 2026-03-18" in whole
    assert "KNC-26-0340" in whole
    assert "crow-foot 36, 60 mm" in whole


def test_day_of_use_is_the_day_of_the_record_s_zone() -> None:
    plan = fixture.plan(2, "[100]", 0)
    late = datetime(2026, 3, 17, 23, 30, tzinfo=UTC)  # the 18th in Helsinki; the certificate ended on the 17th
    record = fixture.record(plan, 1, 1, 520, late, 1, tool="TW-0252", time_basis="Europe/Helsinki")
    (row,) = means.tools(plan, fixture.context(plan, [record]))["rows"]
    assert (row["days"], row["on_day"], row["bad"]) == ("2026-03-18", "NO on 2026-03-18", True)
    record = replace(record, time_basis="UTC")
    (row,) = means.tools(plan, fixture.context(plan, [record]))["rows"]
    assert (row["days"], row["on_day"], row["bad"]) == ("2026-03-17", "yes", False)


def test_any_certificate_of_the_tool_may_cover_the_day() -> None:
    plan = fixture.plan(2, "[100]", 0)
    record = fixture.record(plan, 1, 1, 520, fixture.DAY, 1, tool="TW-0252")
    context = fixture.context(plan, [record])
    newer = replace(context.register[1], certificate="KNC-26-0399", certificate_from=date(2026, 3, 18),
                    certificate_until=date(2027, 3, 17))  # fmt: skip
    (row,) = means.tools(plan, replace(context, register=(*context.register, newer)))["rows"]
    assert row["on_day"] == "yes"
    assert [name for name, _ in row["certificates"]] == ["KNC-26-0340", "KNC-26-0399"]


def test_unknown_tool_and_unknown_name_are_said() -> None:
    plan = fixture.plan(2, "[100]", 0)
    records = [fixture.record(plan, f, 1, 520, fixture.DAY, f, tool="TW-9", operator="") for f in (1, 2)]
    whole = " ".join(pages(_report(plan, records)))
    assert "TW-9 not in the register not recorded" in whole
    assert "no name in the record operator, 2 records" in whole


def test_check_pass_that_is_not_complete_shows_no_final_state() -> None:
    plan = fixture.plan(6)
    records = fixture.pulls(plan)
    assert "every fastener was checked and none is flagged as moved" in " ".join(pages(_report(plan, records)))
    whole = " ".join(pages(_report(plan, records[:-1])))
    assert "Not checked: no. 6." in whole
    assert "Final state: not shown, because not every fastener was checked" in whole


def test_movement_in_a_column_of_its_own_and_a_touch_up_on_the_check_pass() -> None:
    plan = fixture.plan(6)
    records = fixture.pulls(plan)
    bare = [replace(r, angle=None, particulars={"movement": Particular("1", "deg", math.radians(1))}) for r in records]
    assert "movement recorded for 6, none flagged as moved" in " ".join(pages(_report(plan, bare)))
    touched = " ".join(pages(_report(plan, [*records[:-1], replace(records[-1], event="touch-up")])))
    assert "Not checked: no. 6." in touched and "Final state: not shown" in touched


def test_report_of_the_real_judgement() -> None:
    """Records through the real judgement: what it says against the joint stands on the first page, all of it."""
    plan, _, _, context = fixture.troubled(fixture.plan())
    proof = prove(plan, context.tightenings, unread=context.unread, register=context.register)
    decision = decide(plan, proof)
    assert decision.state == "not released"
    assert len(decision.reasons) > 4
    found = pages(release_report(plan, proof, decision, context))
    for reason in decision.reasons:
        assert flat(reason) in found[0]
    whole = " ".join(found)
    for flag in proof.flags:
        assert flat(flag.text)[:40] in whole
    good = fixture.pulls(plan)
    proof = prove(plan, good, register=context.register)
    decision = decide(plan, proof)
    first = pages(release_report(plan, proof, decision, fixture.context(plan, good, signature=fixture.SIGNATURE)))[0]
    assert decision.signable
    assert decision.state.upper() in first
    for text in (*decision.reasons, *decision.follow_ups):
        assert flat(text) in first


def _report(plan: Plan, records: list[Any]) -> bytes:
    return release_report(plan, fixture.proof(plan, records), fixture.RELEASED, fixture.context(plan, records))


def test_what_is_not_recorded_is_said(troubled: list[str]) -> None:
    whole = " ".join(troubled)
    for text in ("Leak test, run: not recorded in this version", "Independent checker: not recorded",
                 "Hours on duty: not recorded", "Shift checks: not recorded", "Late entries not recorded",
                 "Entered from paper not recorded", "Permits, isolation not recorded"):  # fmt: skip
        assert text in whole


def test_what_is_recorded_takes_its_place() -> None:
    plan = fixture.plan(4)
    records = fixture.pulls(plan)
    context = fixture.context(
        plan, records, late_entries=2, paper_entries=0, notes={"permits": "PTW-2211 closed"},
        tests=(JointTest("leak test", "no leak at 12 bar, 30 min", "I. Brannoch", datetime(2026, 3, 19, tzinfo=UTC)),),
        people=(Person("I. Brannoch", "independent check", "EN 1591-4, valid to 2027-05"),
                Person("R. Fjeldgaard", "independent check")),
    )  # fmt: skip
    whole = " ".join(pages(release_report(plan, fixture.proof(plan, records), fixture.RELEASED, context)))
    for text in ("PTW-2211 closed", "2 of 16", "0 of 16", "no leak at 12 bar, 30 min", "EN 1591-4, valid to 2027-05",
                 "R. Fjeldgaard is named as independent checker and also tightened fasteners"):  # fmt: skip
        assert text in whole


def test_each_number_of_the_chain_is_printed_with_its_source(troubled: list[str]) -> None:
    plan = fixture.plan()
    whole = " ".join(troubled)
    numbers = whole[whole.index("17 Numbers behind the target") :]
    assert len(plan.target.chain) > 40
    for step in plan.target.chain:
        assert step.source.split(",")[0].split(" (")[0][:24] in numbers
    load = plan.target.load
    assert load is not None
    for value in (load.low, load.nominal, load.high):
        assert show(value, "kN") in numbers
        assert show(value, "kN") in troubled[1]


def test_order_followed_is_by_the_first_record() -> None:
    plan = fixture.plan(6, "[100]", 0)
    start = fixture.DAY
    sequence = [1, 4, 2, 6, 3]
    records = [fixture.record(plan, f, 1, 520, start + timedelta(minutes=i), i) for i, f in enumerate(sequence)]
    records.append(fixture.record(plan, 1, 1, 520, start + timedelta(hours=1), 9))  # pulled again: does not move no. 1
    records.append(fixture.record(plan, 5, 1, 520, None, 10))
    records = [replace(r, tool=f"TW-{r.fastener:04d}") for r in records]  # one tool each: only times tell
    assert followed(fixture.proof(plan, records), plan.passes[0], moments(records)) == (sequence, [5])
    one_tool = [replace(r, tool="TW-0219") for r in records]  # counters tell, also of the record without a time
    assert followed(fixture.proof(plan, one_tool), plan.passes[0], moments(one_tool)) == ([*sequence, 5], [])


def test_torques_are_printed_in_the_unit_of_the_specification() -> None:
    plan = fixture.plan(4, torque="384 lbf.ft")
    records = fixture.pulls(plan)
    records[-1] = replace(records[-1], torque=384 * 1.3558179483314004, torque_text="520.6", torque_unit="N.m")
    context = fixture.context(plan, records)
    whole = " ".join(pages(release_report(plan, fixture.proof(plan, records), fixture.RELEASED, context)))
    assert Scale.of(plan).with_unit(plan.target.torque) == "384.0 lbf·ft"
    assert "384.0" in whole[whole.index("4 Records") : whole.index("5 Order")]


@pytest.mark.parametrize(("count", "passes", "checks", "paper", "most"), [
    (36, "[20, 40, 70, 100]", 1, "a4", 9), (200, "[30, 70, 100]", 1, "us-letter", 14), (1, "[100]", 0, "a4", 7),
    (12, "[10, 20, 30, 40, 50, 60, 70, 80, 90, 100]", 2, "a4", 9),
])  # fmt: skip
def test_sizes_stay_inside_the_page(count: int, passes: str, checks: int, paper: str, most: int) -> None:
    plan = fixture.plan(count, passes, checks, circle=30 * count + 200)
    records = fixture.pulls(plan)[: -count // 3]
    proof = fixture.proof(plan, records)
    context = fixture.context(plan, records, paper=paper)
    found = pages(release_report(plan, proof, fixture.RELEASED, context))
    assert len(found) <= most
    whole = " ".join(found)
    assert whole.count("missing") >= len(proof.cells) - len(records)
    for picture in pictures(plan, proof, fixture.RELEASED, context):
        assert not ink_outside(picture, 17)


def test_series_is_condensed_and_says_so() -> None:
    plan = fixture.series_plan()
    records: list[Any] = []
    units = tuple(f"WP-{n:04d}" for n in range(1, 751))
    for n, unit in enumerate(units):
        pulled = fixture.pulls(plan, unit, fixture.DAY + timedelta(minutes=2 * n), n, len(records) + 1)
        if n % 5 == 0:
            pulled[1] = replace(pulled[1], torque=1.75, torque_text="1,75")
        records += pulled
    assert len(records) == 1500
    proof = fixture.proof(plan, records, units=units)
    decision = Decision("not released", ("150 of 750 workpieces have a tightening that is not accepted.",), (), False)
    found = pages(release_report(plan, proof, decision, fixture.context(plan, records)))
    whole = " ".join(found)
    assert len(found) <= 14
    assert "series of 750 units (workpiece)" in whole
    assert "On 600 of them every tightening is accepted" in whole
    assert "On 150 something is not accepted" in whole
    assert "the first 100 of these are printed, 50 more stand only in the attached" in whole
    printed = whole[whole.index("4 Records") : whole.index("5 Order")]
    bad = [units[n] for n in range(0, 750, 5)]
    assert all(unit in printed for unit in bad[:100])
    assert not any(unit in printed for unit in bad[100:])
    assert "90 more flags stand in the attached proof.json" in whole


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize("text", [HOSTILE, "W" * 300, "Vorspannkraft" * 23], ids=["signs", "one word of 300", "long"])
def test_hostile_text_is_printed_as_it_is(text: str, paper: PaperName) -> None:
    plan, proof, decision, context = fixture.troubled(fixture.plan())
    spec = plan.spec
    plan = replace(plan, spec=replace(
        spec, name=text, place=text, viewed_from=text, first_fastener=text, notes=text, text=text, file=text,
        source=replace(spec.source, document=text, revision=text, place=text, approved_by=text),
        fasteners=replace(spec.fasteners, lot=text), friction=replace(spec.friction, basis=text, lubricant=text),
        clamped=tuple(replace(c, part=text, material=text) for c in spec.clamped),
    ))  # fmt: skip
    records = tuple(replace(r, operator=text, tool=text, time_doubt=text) for r in context.tightenings)
    again = fixture.proof(plan, records, flags=proof.flags, dispositions=proof.dispositions)
    proof = replace(
        again,
        cells=tuple(replace(c, reason=text) for c in again.cells),
        flags=tuple(replace(f, text=text) for f in proof.flags),
        dispositions=tuple(replace(d, reason=text, by=text) for d in proof.dispositions),
    )
    decision = replace(decision, reasons=(text,), follow_ups=(text,))
    context = replace(
        context,
        tightenings=records,
        unread=tuple(replace(u, raw=text, reason=text) for u in context.unread),
        files=tuple(replace(f, name=text, received_from=text, mapping=text) for f in context.files),
        cards=tuple(replace(c, serial=text, issued_by=text) for c in context.cards),
        signature=replace(fixture.SIGNATURE, signer=text, meaning=text, statement=text, key_id=text),
        open_points=(text,), people=(Person(text, text, text),), paper=paper,
        tests=(JointTest(text, text, text, fixture.DAY),), versions={text: text},
    )  # fmt: skip
    whole = " ".join(pages(release_report(plan, proof, decision, context))).replace(" ", "")
    if text is HOSTILE:
        for piece in ("#strong[x]", "*b*", "$x^2$", "<label>", "@ref", "\\u{41}", '"quotes"', "Müller-Lüdenscheidt",
                      "žluťoučký", "<U+0000>", "<U+202E>", "<U+738B><U+4F1F>", "<U+1F98A>", "<U+E000>",
                      "<script>alert(1)</script>"):  # fmt: skip
            assert piece in whole
    else:
        assert whole.count(text) >= 20
    for picture in pictures(plan, proof, decision, context):
        assert not ink_outside(picture, 16)


def test_every_character_of_the_fonts_can_be_printed() -> None:
    from evenpull.card.typesetting import FONTS

    known = frozenset.intersection(*(covered(font) for font in sorted(FONTS.glob("*.ttf"))))
    assert {ord(c) for c in "aZ09äßžΩµ€Жא–…"} <= known
    assert ord("王") not in known
    text = safe("".join(f"{chr(code)} " for code in sorted(known)))
    plan = fixture.plan(2, "[100]", 0)
    records = fixture.pulls(plan)
    context = fixture.context(plan, records, signature=replace(fixture.SIGNATURE, statement=text))
    assert release_report(plan, fixture.proof(plan, records), fixture.RELEASED, context)


def test_formulas_are_set_with_index_and_power() -> None:
    assert maths("A_s = pi/4 ((d_2 + d_3)/2)^2")[:3] == [["index", "A", "s"], ["text", " = "], ["text", "π"]]
    assert maths("mu_G_min") == [["index", "μ", "G, min"]]
    assert maths("(d)^2") == [["text", "(d)"], ["power", "2"]]
    assert maths("M (1 - s)") == [["text", "M (1"], ["text", " − "], ["text", "s)"]]
    assert "".join("".join(piece[1:]) for piece in maths("plain words")) == "plain words"


def test_proof_of_another_joint_is_refused() -> None:
    plan, proof, decision, context = fixture.troubled(fixture.plan())
    with pytest.raises(ValueError, match="KN-XX-001"):
        release_report(plan, replace(proof, joint="KN-XX-001"), decision, context)
    strange = replace(context.tightenings[0], joint="KN-XX-002")
    with pytest.raises(ValueError, match="KN-XX-002"):
        release_report(plan, proof, decision, replace(context, tightenings=(strange,)))
    with pytest.raises(ValueError, match="1 records of the proof are not among the records of the report"):
        release_report(plan, proof, decision, replace(context, tightenings=context.tightenings[1:]))


def test_time_without_zone_is_refused() -> None:
    plan = fixture.plan(2, "[100]", 0)
    with pytest.raises(ValueError, match="generated_at"):
        fixture.context(plan, [], generated_at=datetime(2026, 3, 20, 9, 5))
    with pytest.raises(ValueError, match="a3"):
        fixture.context(plan, [], paper="a3")


def test_joint_without_any_record() -> None:
    plan = fixture.plan(8)
    decision = Decision("not released", ("No record has been taken in.",), (), False)
    whole = " ".join(pages(release_report(plan, fixture.proof(plan, []), decision, fixture.context(plan, []))))
    assert "32 planned 0 accepted 0 not accepted 0 not judged 32 missing" in whole
    assert "no record carries a time" in whole
    assert "No record names a tool." in whole
    assert not math.isnan(plan.target.torque)


def test_faces_gap_and_alignment_are_printed_from_their_entries() -> None:
    plan = fixture.plan()
    values = {
        "faces seen": {"result": "not in order", "seen": "a scratch across the groove"},
        "alignment": {"gap": "1.2 mm", "gap_least": "0.4 mm", "pulled_in": "yes"},
    }
    entries = tuple(
        Entry(f"e{n}", kind, "joint", plan.spec.id, "", (), fixture.DAY, 0.0, "saw it", "", "Q. Arkwright",
              fixture.DAY, told, n) for n, (kind, told) in enumerate(values.items())
    )  # fmt: skip
    found = notes(Surroundings(entries=entries), ())
    assert "a scratch across the groove" in found["gasket"]
    assert "0.4 mm" in found["alignment"] and "yes" in found["alignment"]
    assert notes(Surroundings(), ())["gasket"] == notes(Surroundings(), ())["alignment"] == "not stated"
