"""What a bundle of the second form carries besides: earlier states, keys that took over, plain texts, time-stamps."""

from __future__ import annotations

import subprocess
import zipfile
from pathlib import Path

import pytest

from evenpull.evidence import Checkpoint, Tree, canonical, make_checkpoint, verify
from evenpull.evidence.checkpoint import moment
from evenpull.evidence.container import Member, write_container
from evenpull.evidence.plain import facts_text
from evenpull.evidence.sign import SecretKey, generate
from evenpull.evidence.succession import SuccessionError
from tests.evidence.bundles import AT, Made
from tests.evidence.rich import Log, make_rich
from tests.evidence.sealing import sealed_anew
from tests.evidence.stamping import Authority, authority


@pytest.fixture(scope="module")
def clock(tmp_path_factory: pytest.TempPathFactory) -> Authority:
    return authority(tmp_path_factory.mktemp("clock"), curve=True)


@pytest.fixture(scope="module")
def rich(tmp_path_factory: pytest.TempPathFactory, clock: Authority) -> tuple[Made, Log]:
    return make_rich(tmp_path_factory.mktemp("rich"), clock)


def said(made: Made, key: SecretKey, path: Path, **changes: bytes | None) -> str:
    """What the check says of a bundle whose files were changed and that was sealed again by its own key."""
    sealed_anew(path, made.members(), key, {name.replace("__", "."): data for name, data in changes.items()})
    return "\n".join(verify(path).lines)


def test_it_tells_keys_earlier_states_and_stamps(rich: tuple[Made, Log]) -> None:
    made, log = rich
    found = verify(made.path)
    assert found.ok, found.lines
    text = "\n".join(found.lines)
    assert "renewed 2 times" in text and "8 earlier signed states, the first one of 1 facts" in text
    assert "2 signed releases: each by the key of the folder that was in force then" in text
    assert "Kestrel Narrows test clock" in text
    first = log.successions[0].old.fingerprint
    assert verify(made.path, first).ok and "took over from it" in "\n".join(verify(made.path, first).lines)
    assert not verify(made.path, generate().public.fingerprint).ok


def test_a_bundle_of_the_first_form_is_still_good() -> None:
    path = Path(__file__).parent / "data" / "form-1.bundle.zip"
    key = "0b1089dd91519838e975fb8b616cd9e86dfe24a5baaa8b37359dc6cb8392c08a"
    found = verify(path, key)
    assert found.ok and (found.facts, found.log_size) == (4, 9) and not found.second.earlier


def test_it_can_be_read_and_compared_with_ordinary_commands(rich: tuple[Made, Log], tmp_path: Path) -> None:
    made, _ = rich
    with zipfile.ZipFile(made.path) as archive:
        archive.extractall(tmp_path)
    done = subprocess.run(["sha256sum", "--strict", "-c", "contents.txt"], cwd=tmp_path, capture_output=True, text=True,
                          timeout=60, check=False)  # fmt: skip
    assert done.returncode == 0 and done.stdout.count(": OK") == len(made.members()) - 3, done
    assert "called received.csv" in (tmp_path / "contents.txt").read_text()
    text = (tmp_path / "facts.txt").read_text()
    for line in ("Fact 1", "  what: tightening", "  who: I. Harrowgate", "  received: 2026-03-19T09:30:00.000000Z",
                 "  content:", "    torque: 90.5", '    "12": "12,5"', "    none: null"):  # fmt: skip
        assert any(line == found or line.strip() == found.strip() for found in text.splitlines()), line
    assert "\u202e" not in text and "\\u202e" in text and "line\\u000afeed" in text


def test_plain_lines_of_the_simplest_fact() -> None:
    """By hand, after the rule in the head of facts.txt."""
    fact = {"body": {"b": [1, {"c": "x"}], "a": "-"}, "kind": "entry", "seq": 7, "more": ""}
    text = facts_text([(7, "ab" * 32, fact)])
    assert text.decode().partition("\n\n")[2].splitlines() == [
        "Fact 7", "  what: entry", "  digest: " + "ab" * 32, "  content:", '    a: "-"', "    b:", "      - 1",
        "      -", "        c: x", '  more: ""',
    ]  # fmt: skip
    assert facts_text([]).decode().partition("\n\n")[2] == ""


def test_what_the_holder_of_the_key_cannot_make_true(rich: tuple[Made, Log], tmp_path: Path, clock: Authority) -> None:
    """Sealed again with the true key: what does not follow from the log is named all the same."""
    made, log = rich
    members, path, key = made.members(), tmp_path / "b.zip", log.key
    assert "nothing was changed" in said(made, key, path)
    earlier = members["earlier.jsonl"].splitlines(keepends=True)
    handed = members["keys.jsonl"].splitlines(keepends=True)

    def lines(name: str, *kept: bytes) -> str:
        return said(made, key, path, **{name: b"".join(kept)})

    text, contents = members["facts.txt"], members["contents.txt"]
    assert "facts.txt: does not say" in said(made, key, path, facts__txt=text.replace(b": 90.5", b": 80.5"))
    assert "does not list" in said(made, key, path, contents__txt=contents.replace(b"facts.txt", b"facts.tst"))
    assert "out of its order" in lines("earlier__jsonl", earlier[1], earlier[0], *earlier[2:])
    assert "cannot be read" in lines("earlier__jsonl", b"{}\n", *earlier)
    assert "lacks the state of 4 facts" in lines("earlier__jsonl", earlier[0], *earlier[2:])
    assert "was not in force" in lines("keys__jsonl", handed[1], handed[0])
    assert "not signed by the key" in lines("keys__jsonl", handed[1])
    assert "lead to the key" in lines("keys__jsonl", handed[0])
    assert "not signed by the key" in lines("keys__jsonl")
    assert "cannot be read" in lines("keys__jsonl", b"[\n")
    for name in ("earlier.jsonl", "keys.jsonl", "facts.txt", "contents.txt", "verify_bundle.py", "README.txt"):
        assert f"does not name {name}" in said(made, key, path, **{name.replace(".", "__"): None}), name


def test_a_rewritten_past_is_shown_by_an_earlier_state(tmp_path: Path) -> None:
    """The holder of the key writes another log of the same facts but one, and gives the old state with it."""
    log, other = Log(), Log()
    other.key = log.key
    for one, torque in ((log, 90.0), (other, 95.0)):
        one.add("tightening", {"torque": torque})
        one.add("tightening", {"torque": 1.0})
    with pytest.raises(ValueError, match="does not begin with the earlier state"):
        other.bundle(tmp_path / "x.zip", [], earlier=log.states[:1])
    other.bundle(tmp_path / "x.zip", [])
    path = tmp_path / "y.zip"
    members = Made(path, (tmp_path / "x.zip").read_bytes(), log.key, ()).members()
    proof = members["earlier.jsonl"].partition(b'"path"')[2]
    forged = b'{"checkpoint":' + log.states[0].text.strip() + b',"path"' + proof
    sealed_anew(path, members, log.key, {"earlier.jsonl": forged})
    assert "earlier.jsonl: line 1: the consistency proof does not lead to the root" in "\n".join(verify(path).lines)


def test_the_writer_refuses_a_history_that_does_not_hold(tmp_path: Path, clock: Authority) -> None:
    _, log = make_rich(tmp_path / "rich", clock)
    path, last = tmp_path / "b.zip", log.states[-1]
    for more in (
        {"earlier": log.states},  # the last one is not earlier
        {"earlier": [log.states[0], log.states[0]]},
        {"earlier": []},  # lacks those before a key took over
        {"successions": []},
        {"successions": log.successions[1:]},
        {"chosen": {0, 1}},  # lacks the facts by which keys took over
        {"earlier": [*log.states[:-1], make_checkpoint(2, log.tree.root(2), AT, log.key)]},  # key of later on
        {"checkpoint": Checkpoint(last.size, last.root, moment(AT), last.key, last.signature)},
    ):
        with pytest.raises((ValueError, SuccessionError, TypeError)):
            log.bundle(path, [], **more)
    assert not path.exists()


def test_a_token_about_something_else_is_named(rich: tuple[Made, Log], tmp_path: Path, clock: Authority) -> None:
    _, log = rich
    raw = tmp_path / "token"
    again = Log()
    again.key = log.key
    again.add("tightening", {"fastener": 1})
    token = again.stamp(clock)
    raw.write_bytes(token)
    again.bundle(tmp_path / "good.zip", [raw])
    assert verify(tmp_path / "good.zip").ok
    again.bundle(tmp_path / "without.zip", [])
    assert "is missing" in "\n".join(verify(tmp_path / "without.zip").lines)
    again.bundle(tmp_path / "without.zip", [raw], earlier=[])
    assert "that it stamps is not in the bundle" in "\n".join(verify(tmp_path / "without.zip").lines)
    body = {"checkpoint": {"size": "x"}, "token": "", "at": ""}
    again.add("time-stamp", body)
    again.bundle(tmp_path / "odd.zip", [raw])
    assert "cannot be read as a time-stamp" in "\n".join(verify(tmp_path / "odd.zip").lines)


def test_no_helper_hides_a_difference(rich: tuple[Made, Log], tmp_path: Path) -> None:
    """Sealing the same files again gives the same bytes, so each finding above comes from the change alone."""
    made, log = rich
    path = tmp_path / "same.zip"
    sealed_anew(path, made.members(), log.key, {})
    assert path.read_bytes() == made.data
    write_container(path, [Member(name, data) for name, data in made.members().items()])
    assert path.read_bytes() == made.data
    assert Tree(made.leaves).root().hex() in made.members()["checkpoint.json"].decode() and canonical({}) == b"{}"
