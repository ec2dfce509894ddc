"""The process is killed in the middle of a withdrawal, at random moments: all of it is there afterwards or nothing."""

from __future__ import annotations

import random
import signal
from typing import Any

import pytest

from tests.store.mishandled import drawn
from tests.store.samples import AUTHOR, MAPPING
from tests.store.test_kill import Base, base, content, job, nursery, opened  # noqa: F401

pytestmark = pytest.mark.slow
KILLS = 40


def test_killed_at_random_moments_of_a_withdrawal(
    base: Base, nursery: Any, settings: Any, django_db_blocker: Any  # noqa: F811
) -> None:
    """The first file is withdrawn; the second repeats 51 of its records, which are taken from there."""
    with opened(settings, django_db_blocker, base.home, _address(base)) as services:
        assert services.commit_file(base.file.name, base.file, MAPPING, AUTHOR).repeated == 51
    with base.copy() as (home, address):
        with opened(settings, django_db_blocker, home, address):
            before = content(home)
        (answer,) = nursery(job(home, address, base.file, act="withdraw"))
        moments = answer["told"]["moments"]
        assert answer["told"]["taken"] == 51
        with opened(settings, django_db_blocker, home, address):
            after = content(home)
    assert len(after[0]) == len(before[0]) + 1 + 51
    dice = random.Random(f"withdrawal {base.template}")
    outcomes = []
    for last in [1, moments, *(dice.randint(2, moments - 1) for _ in range(drawn(KILLS) - 2))]:
        with base.copy() as (home, address):
            (answer,) = nursery(job(home, address, base.file, act="withdraw", last=last))
            assert answer["status"] == -signal.SIGKILL
            with opened(settings, django_db_blocker, home, address) as services:
                from evenpull.store.services import findings

                services.prepare()
                found = content(home)
                assert _same(found, before) or _same(found, after), "something was half written"
                assert services.check_log() == []
                services.refresh()
                assert findings.differing() == []
            (again,) = nursery(job(home, address, base.file, act="withdraw"))
            assert again["told"]["already"] == _same(found, after)
            with opened(settings, django_db_blocker, home, address) as services:
                assert _same(content(home), after) and services.check_log() == []
                counters = [t.counter for t in services.joint("KN-CW-008").tightenings]
                assert len(counters) == len(set(counters)) == 51 + 350
            outcomes.append(_same(found, after))
    assert outcomes[0] is False and outcomes[1] is True


def test_two_people_withdraw_the_same_reading_at_once(
    base: Base, nursery: Any, settings: Any, django_db_blocker: Any  # noqa: F811
) -> None:
    for _ in range(3):
        with base.copy() as (home, address):
            people = ("A. Quist", "B. Rahm", "C. Dorn")
            jobs = [job(home, address, base.file, act="withdraw", who=who) for who in people]
            told = [answer["told"] for answer in nursery(*jobs)]
            assert sum(one.get("already") is False for one in told) == 1, told
            assert all("withdrawn before" in one["refused"] for one in told if "refused" in one)
            with opened(settings, django_db_blocker, home, address) as services:
                assert services.check_log() == [] and services.joint("KN-CW-008").tightenings == ()


def _address(base: Base) -> str:  # noqa: F811
    return "" if base.server is None else base.server.url(base.template)


def _same(one: Any, other: Any) -> bool:
    """Facts without the moment that a withdrawal says itself."""
    def plain(found: Any) -> list[Any]:
        return [(*fact[:5], fact[5] if fact[1] != "reading withdrawn" else "") for fact in found[0]]

    return plain(one) == plain(other) and one[1] == other[1]
