"""The suspect period: from the last good evidence, by direction, and what a failed check takes away."""

from __future__ import annotations

import math

import numpy as np

from evenpull.instrument.period import Evidence, suspect_period

LEFT = Evidence("KNC-26-0311", "certificate", 10.0, True)
EARLIER = Evidence("KNC-25-0280", "certificate", 1.0, True)


def check(id: str, time: float, good: bool = True, **more: str) -> Evidence:
    return Evidence(id, "shift check", time, good, **more)  # type: ignore[arg-type]


def test_since_the_last_certificate_or_the_later_shift_check() -> None:
    assert suspect_period([EARLIER, LEFT], 100.0, "clockwise").start == 10.0
    shorter = suspect_period([LEFT, check("SC-1", 40.0), check("SC-2", 70.0), EARLIER], 100.0, "clockwise")
    assert (shorter.start, shorter.end) == (70.0, 100.0)
    assert shorter.since is not None and shorter.since.id == "SC-2"
    assert "shift check SC-2" in shorter.reason


def test_a_check_in_one_direction_says_nothing_of_the_other() -> None:
    evidence = [LEFT, check("SC-1", 70.0, direction="clockwise")]
    assert suspect_period(evidence, 100.0, "clockwise").start == 70.0
    assert suspect_period(evidence, 100.0, "anticlockwise").start == 10.0


def test_a_good_check_behind_a_failed_one_clears_nothing() -> None:
    evidence = [LEFT, check("SC-1", 40.0), check("SC-2", 60.0, good=False), check("SC-3", 80.0)]
    found = suspect_period(evidence, 100.0, "clockwise")
    assert found.start == 40.0
    assert "SC-2 failed" in found.reason
    calibrated = [*evidence, Evidence("KNC-26-0400", "certificate", 90.0, True)]
    assert suspect_period(calibrated, 100.0, "clockwise").start == 90.0


def test_without_good_evidence_every_use_is_suspect() -> None:
    later = Evidence("X", "certificate", 200.0, True)
    for evidence in ([], [check("SC-1", 5.0, good=False), check("SC-2", 6.0)], [later]):
        found = suspect_period(evidence, 100.0, "clockwise")
        assert found.start == -math.inf and found.since is None


def test_what_came_after_the_finding_is_no_evidence() -> None:
    assert suspect_period([LEFT, check("SC-9", 120.0)], 100.0, "clockwise").start == 10.0


def test_uses_in_the_period() -> None:
    found = suspect_period([LEFT], 100.0, "clockwise")
    assert found.holds(np.array([10.0, 10.1, 100.0, 100.1, np.nan])).tolist() == [False, True, True, False, True]
