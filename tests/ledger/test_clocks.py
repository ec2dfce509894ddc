"""Clocks: hand-worked drifts, the fit against numpy, the stated interval against simulated clocks, jumps."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from evenpull.intake.record import Tightening
from evenpull.ledger.clocks import DRIFT, Contact, clocks, contacts_of, offset_fit
from evenpull.ledger.entry import Entry
from evenpull.proof import prove
from evenpull.proof.moments import before, moments
from evenpull.proof.surroundings import Surroundings
from tests.proof.build import only, plan, record, work

DAY0 = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
AT = plan()


def contact(true: datetime, off: float, u: float = 2.0, counter: int | None = None, zone: str = "UTC") -> Entry:
    """The tool's clock stood `off` seconds behind the trusted one."""
    shown = (true - timedelta(seconds=off)).astimezone(ZoneInfo(zone)).replace(tzinfo=None).isoformat()
    values = {"tool_clock": shown, "zone": zone, "true_clock": true.isoformat(), "uncertainty": str(u)}
    if counter is not None:
        values["counter"] = str(counter)
    name = f"contact {true.isoformat()} {off}"
    return Entry(name, "clock contact", "tool", "TW-1", "", (), true, 0.0, "did it", "", "V. Sunde", true, values, 1)


def pull(counter: int, at: datetime, tool: str = "TW-1", zone: str = "UTC") -> Tightening:
    return replace(record(AT, 1, 1, counter), counter=counter, time=at, tool=tool, time_basis=zone)


def test_twenty_parts_per_million_in_a_day_and_in_ninety_days() -> None:
    """20e-6 x 86 400 s = 1.728 s; x 90 d = 155.52 s."""
    ends = [contact(DAY0, 0.0), contact(DAY0 + timedelta(days=90), 155.52)]
    t0, o0, r, _ = offset_fit(contacts_of(ends))
    assert r * 86_400 == pytest.approx(1.728, rel=1e-3)
    assert o0 + r * ((DAY0 + timedelta(days=45)).timestamp() - t0) == pytest.approx(77.76, abs=0.01)


def test_the_fit_is_that_of_numpy() -> None:
    dice = np.random.default_rng(1)
    given = [Contact(1e9 + 1e5 * n + 12 + 3e-5 * 1e5 * n + e, 1e9 + 1e5 * n, u, None, str(n))
             for n, (e, u) in enumerate(zip(dice.normal(0, 1, 8), dice.uniform(0.5, 3, 8), strict=True))]  # fmt: skip
    t0, o0, r, covariance = offset_fit(given)
    x = np.array([c.shown - t0 for c in given])
    y = np.array([c.true - c.shown for c in given])
    (slope, level), theirs = np.polyfit(x, y, 1, w=1 / np.array([c.u for c in given]), cov="unscaled")
    assert (o0, r) == (pytest.approx(level), pytest.approx(slope))
    assert np.allclose([covariance[0][0], covariance[1][1]], [theirs[1][1], theirs[0][0]])


def test_the_stated_interval_holds_what_it_says() -> None:
    """4,000 simulated clocks with steady drift, three contacts, k = 2: between 93 % and 97.5 % of true times inside."""
    dice = np.random.default_rng(20261125)
    inside = 0
    for _ in range(4_000):
        drift, offset = dice.uniform(-20e-6, 20e-6), dice.uniform(-300, 300)

        def raw_of(true: float, drift: float = drift, offset: float = offset) -> float:
            return true - offset - drift * (true - DAY0.timestamp())

        trues = DAY0.timestamp() + np.sort(dice.uniform(0, 60 * 86_400, 3))
        given = [Contact(t, raw_of(t) + dice.normal(0, 1.0), 1.0, None, str(n)) for n, t in enumerate(trues)]
        true = dice.uniform(trues[0], trues[-1])
        from evenpull.ledger.clocks import ClockModel

        t0, o0, r, ((a, b), (c, d)) = offset_fit(given)
        model = ClockModel("", "TW-1", "", 0, 9, tuple(given), t0, o0, r, ((a, b), (c, d)), "")
        best, half = model.correct(raw_of(true))
        inside += abs(best - true) <= half
    assert 0.93 <= inside / 4_000 <= 0.975


def test_one_contact_reaches_as_far_as_the_bound_of_the_drift() -> None:
    found = clocks([pull(1, DAY0), pull(2, DAY0 + timedelta(days=10))], {"TW-1": [contact(DAY0, 30.0)]})
    near, far = (found.times[p.key] for p in (pull(1, DAY0), pull(2, DAY0 + timedelta(days=10))))
    assert (near.high + near.low) / 2 == pytest.approx(DAY0.timestamp() + 30)
    assert (far.high - far.low) / 2 - (near.high - near.low) / 2 == pytest.approx(DRIFT * 10 * 86_400, rel=0.01)
    assert "30.0 s slow" in near.words and near.model.startswith("clock ")


def test_without_contact_nothing_is_corrected() -> None:
    assert clocks([pull(1, DAY0)], {}).times == {}


@pytest.mark.parametrize(
    ("zone", "day"), [("Europe/London", (2026, 10, 25, 0, 59)), ("Australia/Hobart", (2026, 4, 4, 15, 59))]
)
def test_an_hour_told_twice_is_summer_time(zone: str, day: tuple[int, ...]) -> None:
    """London goes back at 01:00 UTC on 25 October 2026, Hobart at 16:00 UTC on 4 April 2026 (IANA data base). The times
    are read as the first of the two hours, so the clock seems to go back by an hour."""
    first = datetime(*day, tzinfo=UTC)
    again = first + timedelta(minutes=2) - timedelta(hours=1)
    found = clocks([pull(1, first, zone=zone), pull(2, again, zone=zone)], {})
    [event] = found.events
    assert event.kind == "summer time" and "told twice" in event.text


def test_a_reset_and_a_jump() -> None:
    [reset] = clocks([pull(1, DAY0), pull(2, datetime(2010, 1, 1, tzinfo=UTC))], {}).events
    assert reset.kind == "reset" and "flat battery" in reset.text
    [jump] = clocks([pull(1, DAY0), pull(2, DAY0 - timedelta(hours=5))], {}).events
    assert jump.kind == "jump"


def test_each_stretch_has_its_own_contacts() -> None:
    reset = datetime(2010, 1, 1, tzinfo=UTC)
    pulls = [pull(1, DAY0), pull(2, DAY0 + timedelta(hours=1)), pull(3, reset), pull(4, reset + timedelta(hours=1))]
    true = DAY0 + timedelta(hours=9)
    about = [contact(DAY0, 5.0, counter=1), contact(true, (true - reset).total_seconds(), counter=3)]
    found = clocks(pulls, {"TW-1": about})
    assert len(found.models) == 2
    assert found.times[pulls[2].key].low <= true.timestamp() <= found.times[pulls[2].key].high
    told = moments(pulls, found.times)
    assert before(told[pulls[1].key], told[pulls[2].key]) and not told[pulls[2].key].doubt


def test_a_clock_set_in_secret_is_not_corrected() -> None:
    about = [contact(DAY0, 0.0), contact(DAY0 + timedelta(days=1), 400.0), contact(DAY0 + timedelta(days=2), 0.0)]
    pulls = [pull(1, DAY0), pull(2, DAY0 + timedelta(days=2))]
    found = clocks(pulls, {"TW-1": about})
    assert not found.models and "nobody noted when" in found.events[0].text
    for one in pulls:  # not corrected, and not taken at its word either
        assert one.time is not None
        raw, known = one.time.timestamp(), found.times[one.key]
        assert known.low < raw and raw + 400 < known.high < raw + 420


@pytest.mark.parametrize("step", [300.0, -300.0, 3600.0, -3600.0, 7 * 86_400.0])
def test_a_clock_set_between_two_contacts_makes_up_no_order(step: float) -> None:
    """A line goes through any two readings; one that no quartz clock drifts along is none. Also summer time unnoticed,
    on and back."""
    first, last = DAY0, DAY0 + timedelta(days=60)
    about = {"TW-1": [contact(first, 0.0), contact(last, step)]}
    mine = [pull(n, DAY0 + timedelta(days=n)) for n in range(1, 60)]
    found = clocks(mine, about)
    assert not found.models and "ppm" in found.events[-1].text
    for set_on in (1.5, 30.5, 58.5):  # whenever it was set, the true time is within what is stated
        for n, one in enumerate(mine, start=1):
            true = DAY0.timestamp() + n * 86_400 + (step if n > set_on else 0.0)
            assert found.times[one.key].low <= true <= found.times[one.key].high
    other = pull(1, DAY0 + timedelta(days=30, seconds=step / 2), tool="TW-4")
    told = moments([*mine, other], found.times)
    assert not before(told[mine[29].key], told[other.key]) and not before(told[other.key], told[mine[29].key])
    assert before(told[mine[0].key], told[mine[58].key])  # its own counter orders as ever


def test_two_tools_are_ordered_only_as_far_as_their_clocks_allow() -> None:
    about = {"TW-1": [contact(DAY0, 10.0, u=2.0)], "TW-4": [replace(contact(DAY0, -20.0, u=2.0), name="TW-4")]}
    one, near = pull(1, DAY0), pull(1, DAY0 + timedelta(seconds=32), tool="TW-4")
    far = pull(2, DAY0 + timedelta(seconds=45), tool="TW-4")
    told = moments([one, near, far], clocks([one, near, far], about).times)
    # true times: 10 s, 12 s and 25 s after DAY0, each known to about 2 s
    assert not before(told[one.key], told[near.key]) and not before(told[near.key], told[one.key])
    assert before(told[one.key], told[far.key])  # 15 s: less than the 60 s that clocks never read would need


def test_no_order_that_is_asserted_is_wrong() -> None:
    dice = np.random.default_rng(3)
    wrong = asserted = 0
    for _ in range(300):
        pulls, truths, about = [], {}, {}
        for tool in ("TW-1", "TW-4"):
            offset, drift = dice.uniform(-500, 500), dice.uniform(-DRIFT, DRIFT)
            times = np.sort(dice.uniform(0, 40 * 86_400, 4))
            for n, t in enumerate(times):
                shown = DAY0 + timedelta(seconds=float(t - offset - drift * t))
                one = pull(n + 1, shown, tool=tool)
                pulls.append(one)
                truths[one.key] = t
            marks = [float(dice.uniform(0, 40 * 86_400)) for _ in range(2)]
            read = [contact(DAY0 + timedelta(seconds=m), offset + drift * m, u=1.0) for m in marks]
            about[tool] = [replace(one, name=tool) for one in read]
        told = moments(pulls, clocks(pulls, about).times)
        for a in pulls:
            for b in pulls:
                if before(told[a.key], told[b.key]):
                    asserted += 1
                    wrong += truths[a.key] > truths[b.key]
    assert asserted > 1_000 and wrong == 0


def test_the_judgement_says_what_the_clock_did() -> None:
    pulls = work(AT)
    jumped = [replace(r, time=r.time - timedelta(hours=5)) if (r.counter or 0) >= 106 else r for r in pulls]
    proof = prove(AT, jumped, around=Surroundings())
    flag = only(proof, "clock event")
    assert not flag.blocking and "from counter 105 to 106" in flag.text
