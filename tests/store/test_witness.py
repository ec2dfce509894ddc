"""Receipts, consistency, renewal of the signing key and time-stamps, on both databases."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from evenpull.evidence import canonical, make_checkpoint, read_public_key, verify
from evenpull.evidence.bundle import VERIFIER_SOURCE
from evenpull.evidence.compare import CompareError, State, compare, read_receipt, read_state
from evenpull.evidence.merkle import Tree, verify_consistency
from evenpull.evidence.sign import KEY_FILE, NEXT_KEY_FILE, make_key_file
from evenpull.evidence.succession import SuccessionError
from evenpull.evidence.timestamp import make_request
from evenpull.store import services
from evenpull.store.models import Checkpoint, Fact
from evenpull.store.services import place, renewing, witness
from evenpull.store.services.log import New, append, writing
from tests.evidence.bundles import AT
from tests.evidence.stamping import Authority, authority, pem
from tests.store.samples import AUTHOR, JOINT, MAPPING, furnish, many


@pytest.fixture(scope="module")
def clock(tmp_path_factory: pytest.TempPathFactory) -> Authority:
    return authority(tmp_path_factory.mktemp("clock"), curve=True)


def work(number: int) -> None:
    services.commit_file(f"{number}.csv", many(3, start=10 * number + 1), MAPPING, AUTHOR)


def test_a_receipt_is_held_against_the_log(anywhere: Path) -> None:
    with pytest.raises(services.Refused, match="no checkpoint yet"):
        services.last_checkpoint()
    furnish()
    receipt = services.last_checkpoint().text
    assert services.compare_receipt(receipt).verdict == "accepted"
    work(1)
    found = services.compare_receipt(b"\n" + receipt)
    assert found.verdict == "accepted" and "added 4 facts since" in found.text
    forged = services.compare_receipt(receipt.replace(b'"size":3', b'"size":4'))
    assert forged.verdict == "not accepted" and "signature does not fit" in forged.text
    with pytest.raises(CompareError):
        services.compare_receipt(b"no receipt")
    with pytest.raises(services.Refused, match="never had the state"):
        witness.known_receipt(receipt.replace(b'"size":3', b'"size":4'))


def test_the_proof_is_that_of_the_whole_tree(anywhere: Path) -> None:
    furnish()
    for number in range(4):
        work(number)
    leaves = [bytes.fromhex(d) for d in Fact.objects.order_by("seq").values_list("digest", flat=True)]
    tree, size = Tree(leaves), len(leaves)
    for earlier in range(1, size + 1):
        old, new, path = witness.consistency(earlier, size)
        assert (old, new, path) == (tree.root(earlier), tree.root(), tree.consistency(earlier))
        verify_consistency(earlier, old, size, new, path)
    with pytest.raises(ValueError):
        witness.consistency(1, size + 1)


def test_a_rewritten_log_does_not_hold_a_receipt(anywhere: Path) -> None:
    """Somebody with the key and the database writes the log anew: the receipt that lies elsewhere tells."""
    furnish()
    receipt = services.last_checkpoint().text
    leaves = [bytes.fromhex(d) for d in Fact.objects.order_by("seq").values_list("digest", flat=True)]
    forged = Tree([bytes(32), *leaves[1:], bytes(32)])
    later = make_checkpoint(forged.size, forged.root(), AT, place.signing_key())
    written_anew = State(later, witness.keys_of_log(), (), (bytes(32), *leaves[1:], bytes(32)))
    found = compare(written_anew, State(read_receipt(receipt)))
    assert found.verdict == "not accepted" and "REWRITTEN" in found.text


def test_bundles_carry_what_shows_that_the_log_only_grew(anywhere: Path, tmp_path: Path) -> None:
    furnish()
    receipt = tmp_path / "receipt.txt"
    receipt.write_bytes(services.last_checkpoint().text)
    first = services.export_bundle(JOINT, tmp_path / "first.zip")
    for number in range(3):
        work(number)
    second = services.export_bundle(JOINT, tmp_path / "second.zip")
    for earlier in (first, receipt):
        assert compare(read_state(second), read_state(earlier)).verdict == "accepted"
    found = verify(second)
    assert found.ok and len(found.second.earlier) == Checkpoint.objects.count() - 1


def test_of_many_states_a_bundle_carries_the_last_of_each_day_and_those_asked_for(
    anywhere: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(witness, "FEW", 1)
    furnish("kn-cw-008", "kn-cw-014")
    other = "KN-CW-014"  # its bundle does not hold all facts, from which each earlier state would follow
    receipt = services.last_checkpoint()
    for number in range(3):
        work(number)
    few = services.export_bundle(other, tmp_path / "few.zip")
    states = [one.checkpoint for one in verify(few).second.earlier]
    assert 1 <= len(states) <= 2 and states[-1].size == Checkpoint.objects.order_by("-size")[1].size
    unsaid = compare(read_state(few), State(receipt))
    assert unsaid.verdict == "not judged" and "--since" in unsaid.text
    more = services.export_bundle(other, tmp_path / "more.zip", [receipt.text])
    assert compare(read_state(more), State(receipt)).verdict == "accepted"
    for bad in (b"none", receipt.text.replace(b'"size":4', b'"size":2')):
        with pytest.raises(services.Refused):
            services.export_bundle(other, tmp_path / "bad.zip", [bad])
    assert not (tmp_path / "bad.zip").exists()


def test_the_signing_key_is_renewed(anywhere: Path, tmp_path: Path) -> None:
    with pytest.raises(services.Refused):
        services.renew_key(AUTHOR)
    assert not (anywhere / NEXT_KEY_FILE).exists()
    furnish()
    before = services.last_checkpoint().text
    earlier = services.export_bundle(None, tmp_path / "before.zip")
    old, new = services.renew_key(AUTHOR)
    assert (anywhere / f"signing-key-{old[:16]}.pem").stat().st_mode & 0o077 == 0
    assert services.log_status().key_id == new != old and services.check_log() == []
    work(1)
    third = services.renew_key(AUTHOR)[1]
    work(2)
    assert [key.fingerprint for key in services.keys_of_log().keys] == [old, new, third]
    assert services.check_log() == [] and services.compare_receipt(before).verdict == "accepted"
    services.prepare()
    path = services.export_bundle(JOINT, tmp_path / "after.zip")
    for key in (old, new, third):
        assert verify(path, key).ok, verify(path, key).lines
    assert compare(read_state(path), read_state(earlier)).verdict == "accepted"
    assert not list(anywhere.glob("*next*"))


def test_a_renewal_cut_off_at_any_moment_leaves_a_log_that_goes_on(
    anywhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    furnish()
    keys = [services.log_status().key_id]

    class CutOff(Exception):  # noqa: N818
        """Stands for the power going."""

    def cut(*_: object, **__: object) -> None:
        raise CutOff

    monkeypatch.setattr(renewing, "append", cut)  # the new key is on the disk, its fact is not
    with pytest.raises(CutOff):
        services.renew_key(AUTHOR)
    monkeypatch.undo()
    assert (anywhere / NEXT_KEY_FILE).exists() and services.log_status().key_id == keys[0]
    work(1)
    services.prepare()
    assert place.signing_key().public.fingerprint == keys[0] and services.check_log() == []

    monkeypatch.setattr(renewing, "finish_renewal", cut)  # the fact is written, the files have not changed places
    with pytest.raises(CutOff):
        services.renew_key(AUTHOR)
    monkeypatch.undo()
    renewed = services.log_status().key_id
    assert renewed != keys[0] and place.signing_key().public.fingerprint == renewed
    work(2)  # another process that goes on writing signs with the new key
    services.prepare()
    assert not (anywhere / NEXT_KEY_FILE).exists() and services.check_log() == []

    services.renew_key(AUTHOR)  # the old file is moved away, the new one not yet in its place
    (anywhere / KEY_FILE).rename(anywhere / NEXT_KEY_FILE)
    services.prepare()
    work(3)
    assert services.check_log() == [] and len(services.keys_of_log().keys) == 3


def test_a_lost_key_or_the_old_one_cannot_go_on(anywhere: Path) -> None:
    furnish()
    old, new = services.renew_key(AUTHOR)
    key, kept = anywhere / KEY_FILE, anywhere / f"signing-key-{old[:16]}.pem"
    good, size = key.read_bytes(), Fact.objects.count()
    key.write_bytes(kept.read_bytes())
    for call in (services.prepare, lambda: services.renew_key(AUTHOR), lambda: work(1)):
        with pytest.raises(services.Refused, match=new):
            call()
    key.unlink()
    with pytest.raises(services.Refused, match="missing"):
        services.prepare()
    make_key_file(key)
    with pytest.raises(services.Refused, match="was signed with the key"):
        services.prepare()
    key.write_bytes(good)
    services.prepare()
    for path in anywhere.glob(NEXT_KEY_FILE):
        path.unlink()
    assert services.check_log() == [] and Fact.objects.count() == size


def test_a_database_from_before_the_renewal_names_the_key_beside_it(anywhere: Path) -> None:
    furnish()
    old, _ = services.renew_key(AUTHOR)
    last = Checkpoint.objects.order_by("-size")[1]
    assert last.key == old

    class Before:
        """The table as an older copy of the database holds it."""

        @staticmethod
        def order_by(_: str) -> Iterator[Checkpoint]:
            return Before()  # type: ignore[return-value]

        @staticmethod
        def first() -> Checkpoint:
            return last

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(place, "Checkpoint", type("T", (), {"objects": Before}))
        with pytest.raises(services.Refused, match=f"signing-key-{old[:16]}.pem beside it"):
            services.prepare()


def test_a_time_stamp_is_asked_for_and_kept(anywhere: Path, tmp_path: Path, clock: Authority) -> None:
    furnish()
    with pytest.raises(services.Refused, match="no request was made"):
        services.keep_stamp(b"x", AUTHOR)
    request, state = services.request_stamp(AUTHOR)
    token = clock.answer(request)
    work(1)
    services.request_stamp(AUTHOR)  # a later one, not answered yet
    size = Fact.objects.count()
    stranger = authority(tmp_path / "stranger", curve=True)
    for bad, trusted, why in (
        (b"", None, "cannot be read"), (token[:-1], None, "cannot be read"),
        (token, pem(stranger.root), "does not lead"), (token, b"none", "trusted authorities"),
        (clock.answer(make_request(state.text, 5)), None, "none of the requests"),
        (bytes(1_000_001), None, "at most"),
    ):  # fmt: skip
        with pytest.raises(services.Refused, match=why):
            services.keep_stamp(bad, AUTHOR, trusted)
    assert Fact.objects.count() == size and services.stamps() == []
    kept = services.keep_stamp(token, AUTHOR, pem(clock.root))
    assert services.keep_stamp(token, AUTHOR) == kept and Fact.objects.count() == size + 1
    assert services.stamps() == [kept]
    assert (kept.size, kept.anchored, kept.authority) == (state.size, True, "CN=Kestrel Narrows test clock")
    found = verify(services.export_bundle(JOINT, tmp_path / "b.zip"))
    assert found.ok, found.lines
    ((stamped, stamp),) = found.second.stamps
    assert stamped == state and stamp.at == kept.at
    assert services.check_log() == []


def test_a_renewal_is_signed_by_both_keys_in_the_fact_itself(anywhere: Path) -> None:
    """With nothing but the fact and Ed25519: what an auditor would do by hand."""
    furnish()
    services.renew_key(AUTHOR)
    body = Fact.objects.get(kind="key succeeded").data
    unsigned = {name: value for name, value in body.items() if not name.startswith("signature_")}
    for which in ("old", "new"):
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(body[f"{which}_key"]))
        key.verify(bytes.fromhex(body[f"signature_{which}"]), canonical(unsigned))


def test_the_program_in_a_bundle_is_the_one_of_this_program(anywhere: Path, tmp_path: Path) -> None:
    furnish()
    with zipfile.ZipFile(services.export_bundle(None, tmp_path / "b.zip")) as archive:
        assert archive.read("verify_bundle.py") == VERIFIER_SOURCE.read_bytes()
        assert read_public_key(archive.read("key.pem")).fingerprint == services.log_status().key_id
        text = archive.read("facts.txt").decode()
        assert "  what: specification" in text and f"  joint: {JOINT}" in text and f"  who: {AUTHOR}" in text


def test_a_forged_statement_in_the_log_is_found(anywhere: Path) -> None:
    furnish()
    with writing():
        append([New("key succeeded", "key succeeded:x", {"form": "evenpull key succession 1"})], AUTHOR)
    assert any("keys of the log" in problem for problem in services.check_log())
    with pytest.raises(SuccessionError):
        services.keys_of_log()
