"""The signature of a release: it outlives the renewal of the key, and one that does not hold is named."""

from __future__ import annotations

import runpy
from pathlib import Path
from typing import Any

import pytest

from evenpull.evidence import canonical, verify
from evenpull.evidence.releases import ReleaseError, check_release
from evenpull.evidence.standalone import verify_bundle
from evenpull.evidence.succession import KeyChain
from tests.evidence.rich import Log

SIGNED = {"joint": "KN-CW-008", "state": "released", "log": {"size": 0}}


def body_of(log: Log, **changed: Any) -> dict[str, Any]:
    seal = log.key.sign(canonical(SIGNED)).hex()
    return {"signed": SIGNED, "key": log.key.public.fingerprint, "signature": seal} | changed


def standalone(path: Path) -> list[str]:
    program = runpy.run_path(verify_bundle.__file__)
    return list(program["Bundle"](path.read_bytes(), "").problems)


def test_a_release_signed_before_and_after_a_renewal_holds(tmp_path: Path) -> None:
    log = Log()
    log.add("tightening", {"fastener": 1})
    log.release()
    log.renew()
    log.release()
    log.renew()
    path = tmp_path / "b.zip"
    log.bundle(path, [])
    found = verify(path)
    assert found.ok and found.second.releases == 2 and standalone(path) == []


@pytest.mark.parametrize(("changed", "words"), [
    ({"signed": SIGNED | {"state": "not released"}}, "does not fit what was signed"),
    ({"signed": SIGNED | {"joint": "KN-CW-009"}}, "not the signed release of its joint"),
    ({"signed": [SIGNED]}, "cannot be read"),
    ({"signature": "00" * 64}, "does not fit what was signed"),
    ({"signature": "zz"}, "cannot be read"),
    ({"signature": None}, "cannot be read"),
    ({"key": "00" * 32}, "names another key"),
])  # fmt: skip
def test_a_release_that_does_not_hold_is_named_by_both_programs(
    tmp_path: Path, changed: dict[str, Any], words: str
) -> None:
    """Written into the log by the holder of the key, so that nothing else is wrong with the bundle."""
    log, path = Log(), tmp_path / "b.zip"
    log.add("tightening", {"fastener": 1})
    log.add("release", body_of(log, **changed))
    log.bundle(path, [])
    problems = [str(one.what) for one in verify(path).problems]
    assert len(problems) == 1 and words in problems[0] and "fact 1, a release" in problems[0]
    assert len(standalone(path)) == 1 and "releases" in standalone(path)[0]


def test_the_old_key_signs_no_release_after_it_was_renewed() -> None:
    log = Log()
    log.add("tightening", {"fastener": 1})
    old = log.key
    log.renew()
    seal = old.sign(canonical(SIGNED)).hex()
    body = {"signed": SIGNED, "key": old.public.fingerprint, "signature": seal}
    chain = KeyChain(log.began.public, tuple(log.successions))
    check_release(0, "KN-CW-008", body, chain)
    with pytest.raises(ReleaseError, match="in force then"):
        check_release(2, "KN-CW-008", body, chain)
