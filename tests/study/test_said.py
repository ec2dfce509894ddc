"""What a check of some says of all, how many a study needs, what a result counts for: against the figures of others."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pytest
from scipy import stats

from evenpull.intake.record import Tightening
from evenpull.ledger.entry import Entry
from evenpull.statistics.person_bias import bias_from_reference, bias_half_width, pulls_needed
from evenpull.statistics.repeatability_plan import Expected, planned
from evenpull.statistics.variance_tables import Crossed
from evenpull.study import Claim, judge, read_study, standing
from evenpull.study.model import Guess
from evenpull.study.planning import alternatives, capability_table, capability_words, expected_of, fewest, widths
from evenpull.study.result import StudyResult
from evenpull.study.sampled import checks_of_some, sampled, siblings_looked_at, sizes
from tests.study.files import EXERCISE, PLAIN, ROWS, changed, study_text, with_rows

# sampling ------------------------------------------------------------------------------------------------------------


def test_what_ten_of_a_hundred_miss() -> None:
    """N = 100, n = 10, b = 1, 5, 10: found with 0.10, 0.42, 0.67 (hypergeometric, by C(N - b, n)/C(N, n))."""
    found = sampled(100, 10)
    told = {one.bad: round(1 - one.missed, 2) for one in found.rows}
    assert told == {1: 0.10, 5: 0.42, 10: 0.67, 20: 0.90}
    for one in found.rows:
        assert one.missed == pytest.approx(math.comb(100 - one.bad, 10) / math.comb(100, 10))
    assert "a share of 5 % bad (5 of 100) would have been missed with probability 58 %" in found.words
    assert found.words.startswith("10 of 100 checked, none found bad: ")


def test_zero_failure_sizes_of_the_trade() -> None:
    """59, 29 and 299 pieces show less than 5 %, 10 % and 1 % with 95 % (n >= ln 0.05/ln(1 - p))."""
    for share, n in ((0.05, 59), (0.10, 29), (0.01, 299)):
        assert f"none bad among {n} pieces" in sizes(share)[0]
    of_lot = sizes(0.10, lot=100)[1]
    assert "Lot of 100: none bad among 25 shows" in of_lot
    assert stats.hypergeom.pmf(0, 100, 10, 25) <= 0.05 < stats.hypergeom.pmf(0, 100, 10, 24)
    assert "1 bad among 46" in sizes(0.10, found=1)[0]  # 1 - (0.9^46 + 46 0.1 0.9^45) >= 0.95


def test_found_bad_ones_give_a_limit_and_a_whole_check_leaves_nothing() -> None:
    assert "at most 13 of the 16 are bad" in sampled(16, 3, 1).words
    assert sampled(16, 16).words == "All 16 checked, none found bad: nothing is left to chance."
    with pytest.raises(ValueError, match="each has to fit"):
        sampled(10, 11)
    with pytest.raises(ValueError, match="each has to fit"):
        sampled(10, 0)


def entry(kind: str, *, numbers: tuple[int, ...] = (), subject: str = "joint", name: str = "KN-1", at: int = 20,
          **values: str) -> Entry:
    when = datetime(2026, 4, at, 9, tzinfo=UTC)
    return Entry("entry 1", kind, subject, name, "", numbers, when, 0.0, "did it", "", "P. Quell", when,  # type: ignore[arg-type]
                 values, at)


def record(number: int, event: str) -> Tightening:
    from evenpull.demo import scenario
    from evenpull.intake import read_bytes, read_mapping
    from tests.store.samples import many

    one = read_bytes(many(1), read_mapping(scenario.mapping_text("semicolon-log"), "m"), "a.csv").tightenings[0]
    return replace(one, fastener=number, event=event, unit_id="")  # type: ignore[arg-type]


def test_checks_of_some_fasteners_are_found_and_those_of_all_are_not() -> None:
    entries = [
        entry("checked", numbers=(3, 7, 11), seen="marks", result="in order"),
        entry("checked", seen="all marks", result="in order"),
        entry("checked", numbers=tuple(range(1, 17)), seen="all", result="in order"),
        entry("follow-up done", numbers=(1, 2), follow_up="yearly", result="not in order", found="loose"),
        entry("loosened", numbers=(4,), why="x"),
    ]
    records = [record(n, "residual check") for n in (5, 5, 6)] + [record(9, "first")]
    some = checks_of_some(16, entries, records)
    assert [(one.fasteners, one.sample.checked if one.sample else None) for one in some] == [
        ("3, 7, 11", 3), ("1, 2", None), ("5, 6", 2)]
    assert "3 of 16 checked, none found bad" in some[0].words and "Chosen by convenience" in some[0].words
    assert "check them all" in some[1].words and "stands with its record" in some[2].words
    assert checks_of_some(16, entries[1:3], [record(n, "residual check") for n in range(1, 17)]) == ()


def test_joints_looked_at_after_a_failure() -> None:
    """Those named of those that are alike; a word that only begins like an id is none."""
    alike = {f"KN-CW-{n:03}" for n in range(1, 11)}
    said = siblings_looked_at([
        entry("siblings looked at", joints="kn-cw-001, KN-CW-003; KN-CW-0031 was closed", result="in order"),
        entry("siblings looked at", joints="KN-CW-002", result="not in order"),
        entry("siblings looked at", joints="all of the gallery", result="in order"),
        entry("checked", seen="KN-CW-002", result="in order"),
    ], alike)  # fmt: skip
    assert len(said) == 3 and "2 of 10 checked, none found bad" in said[0] and "Chosen by convenience" in said[0]
    assert "look at them all" in said[1] and "names none of the 10 joints" in said[2]


# planning ------------------------------------------------------------------------------------------------------------


def test_planned_widths_are_those_of_the_statistics() -> None:
    expected = Expected(part=4.0, operator=0.6, interaction=0.3, repeat=1.2)
    table = widths(expected, 10, 3, 3)
    found = planned(expected, 10, 3, 3)
    assert table.rows[0] == ("measurement", f"{found.low:.3g}", f"{found.high:.3g}")
    assert expected_of(Guess(1.2, 4.0, 0.6, 0.3)) == expected
    grid = alternatives(expected, 10)
    assert grid.rows[1][2] == f"{found.high:.3g}" and grid.rows[1][0] == "3"
    zero = widths(Expected(4.0, 0.0, 0.0, 1.2), 10, 3, 3)
    assert ("operator", "expected to be zero", "") in zero.rows
    assert "readings" in fewest(expected, 10, 1.5)


def test_capability_plan_is_turned_round_by_the_judgement() -> None:
    """So many values with the index that the table asks for have a lower limit that is just the demand."""
    from evenpull.statistics.capability import one_sided_limit

    for n, index, _ in capability_table(1.67).rows:
        assert one_sided_limit(float(index), int(n), int(n) - 1, 0.05) == pytest.approx(1.67, abs=0.005)
    assert "55 values show 1.67" in capability_words(1.67, 2.0)[0]
    assert "shows no 1.67" in capability_words(1.67, 1.5)[0]
    assert "Without an expected index" in capability_words(1.67, None)[0]


def test_pulls_needed_give_the_width_that_was_planned() -> None:
    """Planned half-width against the limits of simulated exercises: the root mean square of them is that."""
    n = pulls_needed(1.5, 1.0, persons=3)
    assert bias_half_width(1.5, n, 3) <= 1.0 < bias_half_width(1.5, n - 1, 3)
    rng, squares = np.random.default_rng(7), []
    for _ in range(400):
        y = 1.5 * rng.normal(size=(n, 3, 1))
        one = bias_from_reference(Crossed(tuple(map(str, range(n))), ("a", "b", "c"), y), [0.0] * n)[0]
        squares.append(((one.high - one.low) / 2) ** 2)
    assert math.sqrt(np.mean(squares)) == pytest.approx(bias_half_width(1.5, n, 3), rel=0.03)
    with pytest.raises(ValueError, match="a million"):
        pulls_needed(1.0, 1e-5)


# standing ------------------------------------------------------------------------------------------------------------

VALID = """
[validity]
from = 2026-04-10
until = 2027-04-09
ends_with = ["tool dropped", "tool outside its limits", "another person"]
"""
DAY = date(2026, 5, 1)


def result(text: str = PLAIN + VALID) -> StudyResult:
    return judge(read_study(with_rows(text), "s.toml"))


def test_a_result_counts_between_its_days() -> None:
    found = result()
    assert standing(Claim.of(found), date(2026, 4, 9), ()).state == "not yet"
    on = standing(Claim.of(found), DAY, ())
    assert on.state == "counts" and "until 2027-04-09" in on.words and "another person, which somebody" in on.words
    assert standing(Claim.of(found), date(2027, 4, 10), ()).words == "it counted until 2027-04-09"
    assert "no validity is stated" in standing(Claim.of(result(PLAIN)), DAY, ()).words
    planned_ = judge(read_study(PLAIN, "s"))
    assert standing(Claim.of(planned_), DAY, ()).state == "no result"


@pytest.mark.parametrize(
    ("one", "ends"),
    [
        (entry("tool dropped", subject="tool", name="TW-0219", what="fell"), "tool dropped, TW-0219"),
        (entry("shift check", subject="tool", name="TW-0219", result="outside limits"), "tool outside its limits"),
        (entry("shift check", subject="tool", name="TW-0219", result="within limits"), ""),
        (entry("tool dropped", subject="tool", name="TW-0252", what="fell"), ""),  # another tool
        (entry("tool dropped", subject="tool", name="TW-0219", at=5, what="fell"), ""),  # before it began
        (entry("tool lost", subject="tool", name="TW-0219", what="gone"), ""),  # not among what ends it
    ],
)  # fmt: skip
def test_entries_end_what_the_file_says(one: Entry, ends: str) -> None:
    found = standing(Claim.of(result()), DAY, (one,))
    assert (found.state == "ended") == bool(ends) and ends in found.words
    assert standing(Claim.of(result()), date(2026, 4, 15), (one,)).state == "counts"  # before it happened


def exercise() -> str:
    rows = [(name, n, 150 + 0.3 * n) for name in ("A. Lund", "B. Moor") for n in range(1, 6)]
    return study_text(EXERCISE, persons=["A. Lund", "B. Moor"], replicates=5, rows=rows,
                      columns="operator;replicate;value", measured='quantity = "torque"\nunit = "N.m"\n'
                      'analysed = "share of target"', more='[window]\ntarget = 150\nlower = -4\nupper = 4\n[demand]\n'
                      'bias = 3\ninside = 0.9\n[validity]\nfrom = 2026-04-10\nends_with = ["exercise not passed"]')


def test_an_exercise_ends_for_the_person_who_failed_another() -> None:
    found = judge(read_study(exercise(), "e.toml"))
    failed = entry("exercise", subject="person", name="a. lund", exercise="load cell", result="not passed")
    one = standing(Claim.of(found), DAY, (failed,))
    assert one.state == "counts" and one.persons == ("A. Lund",) and "no more for A. Lund" in one.words
    both = (failed, replace(failed, name="B. Moor"))
    assert standing(Claim.of(found), DAY, both).state == "ended"


def test_an_exercise_says_shown_not_shown_and_not_so() -> None:
    """Pulls 150.3 to 151.5 at 150: 0.2 to 1 % above, all inside of 4 %; five pulls show 0.9 inside of no one."""
    found = judge(read_study(exercise(), "e.toml"))
    answers = {(one.person, one.what[:7]): one.answer for one in found.outcome.demands}
    assert set(answers.values()) == {"shown", "not shown"} and found.answer == "not shown"
    bias = next(one for one in found.outcome.figures if one.key == "bias: A. Lund")
    told = stats.ttest_1samp([0.2, 0.4, 0.6, 0.8, 1.0], 0).confidence_interval(1 - 0.05 / 2)
    assert (bias.value, bias.low, bias.high) == pytest.approx((0.6, told.low, told.high))
    inside = next(one for one in found.outcome.figures if one.key == "inside: A. Lund")
    assert inside.low == pytest.approx(100 * stats.binomtest(5, 5).proportion_ci(0.95).low)
    far = judge(read_study(exercise().replace(";150.", ";160."), "e.toml"))
    assert far.answer == "not so" and "Not met: A. Lund, B. Moor" in far.line


def test_a_study_that_nothing_can_be_said_of_says_why() -> None:
    text = with_rows(PLAIN, ROWS.replace("151.4", "150.8").replace("302.0", "301,2").replace("149.9", "149.1").replace(
        "297.9", "298.4"))
    found = judge(read_study(text, "s.toml"))
    assert found.state == "cannot be judged" and "the resolution hides the repeatability" in found.line
    shares = changed(PLAIN, ("hidden = true", 'hidden = true\nanalysed = "share of target"'))
    found = judge(read_study(with_rows(shares, ROWS.replace("149.1", "0")), "s.toml"))
    assert found.state == "cannot be judged" and "is no share of a target" in found.line
