"""Bundles: every changed, added, removed or re-ordered byte is found and named."""

from __future__ import annotations

import io
import json
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from evenpull.evidence import BundleFact, Tree, make_checkpoint, verify, write
from evenpull.evidence.container import ContainerError, Member, write_container
from evenpull.evidence.sign import generate
from tests.evidence.bundles import AT, Made, facts, make


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return make(tmp_path_factory.mktemp("bundle"))


@pytest.fixture(scope="module")
def scratch(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("damaged") / "bundle.zip"


def places(path: Path, data: bytes) -> list[str]:
    path.write_bytes(data)
    found = verify(path)
    assert found.ok == (not found.problems)
    return [problem.place for problem in found.problems]


def resealed(path: Path, members: dict[str, bytes]) -> list[str]:
    """Problems of a container that is itself well made."""
    write_container(path, [Member(name, data) for name, data in members.items()])
    return [str(problem) for problem in verify(path).problems]


def test_an_untouched_bundle_verifies(made: Made) -> None:
    found = verify(made.path)
    assert found.ok and found.sound and not found.pinned
    assert (found.facts, found.log_size, found.subject) == (4, 9, "KN-CW-008")
    assert found.key == made.key.public.fingerprint
    text = "\n".join(found.lines)
    assert found.sha256 in text and found.key in text
    assert "not who sealed it" in text
    pinned = verify(made.path, made.key.public.fingerprint.upper())
    assert pinned.ok and pinned.pinned and "the key is the one you gave" in "\n".join(pinned.lines)


def test_the_same_input_gives_the_same_bytes(made: Made, tmp_path: Path) -> None:
    everything = list(facts(9, b"a;b\r\n1;2\r\n"))
    tree = Tree([bytes.fromhex(f.digest) for f in everything])
    one, two = tmp_path / "one", tmp_path / "two"
    checkpoint = make_checkpoint(9, tree.root(), AT, made.key)
    sums = [
        write(path, subject="all", facts=everything, tree=tree, checkpoint=checkpoint, key=made.key, made_at=AT)
        for path in (one, two)
    ]
    assert one.read_bytes() == two.read_bytes() and sums[0] == sums[1] == verify(one).sha256


def test_ordinary_zip_programs_can_open_it(made: Made) -> None:
    with zipfile.ZipFile(made.path) as archive:
        assert archive.testzip() is None
        assert {name: archive.read(name) for name in archive.namelist()} == made.members()


def test_a_change_of_any_single_byte_is_found(made: Made, scratch: Path) -> None:
    """Every byte of the file in turn, contents and container alike; the region named must hold the byte.

    Of the two long fixed texts in it, program and README, every 29th: they are only compared with their hash.
    """
    with scratch.open("wb") as out:
        out.write(made.data)
    texts = [made.members()[name] for name in ("verify_bundle.py", "README.txt")]
    fixed = [range(made.data.index(text), made.data.index(text) + len(text)) for text in texts]
    for place, byte in enumerate(made.data):
        if place % 29 and any(place in text for text in fixed):
            continue
        with scratch.open("r+b") as stream:
            stream.seek(place)
            stream.write(bytes([byte ^ (1 + place % 255)]))
        found = verify(scratch)
        assert found.problems, f"byte {place} was changed and nobody noticed"
        named = [(p.start, p.end) for p in found.problems if p.start is not None and p.end is not None]
        assert any(start <= place < end for start, end in named), f"byte {place} is not in the regions named: {named}"
        with scratch.open("r+b") as stream:
            stream.seek(place)
            stream.write(bytes([byte]))
    assert verify(scratch).ok


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(data=st.data())
def test_bytes_added_removed_or_moved_are_found(made: Made, scratch: Path, data: st.DataObject) -> None:
    whole = made.data
    start = data.draw(st.integers(0, len(whole) - 1))
    end = data.draw(st.integers(start + 1, min(start + 400, len(whole))))
    way = data.draw(st.sampled_from(["added", "removed", "moved", "cut", "doubled"]))
    piece = whole[start:end]
    if way == "added":
        changed = whole[:start] + data.draw(st.binary(min_size=1, max_size=40)) + whole[start:]
    elif way == "removed":
        changed = whole[:start] + whole[end:]
    elif way == "cut":
        changed = whole[:start]
    elif way == "doubled":
        changed = whole[:end] + piece + whole[end:]
    else:
        rest = whole[:start] + whole[end:]
        to = data.draw(st.integers(0, len(rest)))
        changed = rest[:to] + piece + rest[to:]
    if changed != whole:
        assert places(scratch, changed)


def test_changes_are_named(made: Made, tmp_path: Path) -> None:
    """Each kind of change inside a well-made container, and what the finding says."""
    path, members = tmp_path / "b.zip", made.members()
    raw = next(name for name in members if name.startswith("raw/"))
    lines = members["facts.jsonl"].splitlines(keepends=True)

    def joined(name: str, data: bytes) -> str:
        return " | ".join(resealed(path, members | {name: data}))

    assert f"{raw}: was changed" in joined(raw, members[raw].replace(b"1", b"7"))
    assert "reports/KN-CW-008-R1.pdf: was changed" in joined("reports/KN-CW-008-R1.pdf", b"%PDF-1.7 another\n")
    text = joined("facts.jsonl", members["facts.jsonl"].replace(b'"torque":94.5', b'"torque":84.5'))
    assert "line 2 (fact 4, tightening/TW-0207//4004): its content does not fit its digest" in text
    text = joined("facts.jsonl", b"".join(lines[:2] + lines[3:]))
    assert "fact 5: is missing" in text
    text = joined("facts.jsonl", b"".join([lines[1], lines[0], *lines[2:]]))
    assert "fact 1 stands after fact 4: the order was changed" in text
    assert "stands here a second time" in joined("facts.jsonl", b"".join([*lines, lines[-1]]))
    assert "README.txt: was changed" in joined("README.txt", members["README.txt"] + b"trust me\n")
    other = generate().public
    assert "key.pem" in joined("key.pem", other.pem)

    without = {name: data for name, data in members.items() if name != raw}
    assert f"{raw}: is missing" in " | ".join(resealed(path, without))
    assert "extra.txt: was added" in " | ".join(resealed(path, members | {"extra.txt": b"hello"}))
    swapped = dict(reversed(members.items()))
    assert "stands at another place" in " | ".join(resealed(path, swapped))
    for name in ("manifest.json", "seal.json", "checkpoint.json", "facts.jsonl", "proofs.jsonl", "key.pem"):
        lacking = {key: data for key, data in members.items() if key != name}
        assert f"{name}: is missing" in " | ".join(resealed(path, lacking)), name


def test_a_region_in_a_large_file_is_placed(tmp_path: Path) -> None:
    raw = bytes(i * 7 % 251 for i in range(200_000))
    big = make(tmp_path, raw=raw)
    at = big.data.index(raw) + 150_000
    path = tmp_path / "changed.zip"
    path.write_bytes(big.data[:at] + bytes([big.data[at] ^ 1]) + big.data[at + 1 :])
    region = next(p for p in verify(path).problems if p.place.startswith("raw/") and "was changed" in p.what)
    assert region.start is not None and region.end is not None
    assert region.start <= at < region.end and region.end - region.start == 1024


def test_a_bundle_sealed_anew_by_another_key_is_found_by_the_fingerprint(made: Made, tmp_path: Path) -> None:
    """Whoever rewrites everything needs a key of their own: only the fingerprint tells, so the check says that."""
    forged = list(facts(9, b"forged"))
    tree, other, path = Tree([bytes.fromhex(f.digest) for f in forged]), generate(), tmp_path / "forged.zip"
    write(path, subject="KN-CW-008", facts=forged, tree=tree, checkpoint=make_checkpoint(9, tree.root(), AT, other),
          key=other, made_at=AT)  # fmt: skip
    found = verify(path)
    assert found.ok and "not who sealed it" in "\n".join(found.lines)
    pinned = verify(path, made.key.public.fingerprint)
    assert not pinned.ok and "another key than the one you gave" in "\n".join(pinned.lines)
    with pytest.raises(ValueError, match="no fingerprint"):
        verify(path, "abc")


def test_a_fact_that_is_not_in_the_log_is_found_even_when_sealed(tmp_path: Path) -> None:
    """The holder of the key cannot slip a fact into a bundle that is not under the signed root."""
    honest = list(facts(9, b"raw"))
    tree, key = Tree([bytes.fromhex(f.digest) for f in honest]), generate()
    other = list(facts(9, b"other"))[3]
    path = tmp_path / "b.zip"
    write(path, subject="x", facts=[BundleFact(3, other.text, other.digest)], tree=tree,
          checkpoint=make_checkpoint(9, tree.root(), AT, key), key=key, made_at=AT)  # fmt: skip
    assert "not proven to be in the log" in "\n".join(verify(path).lines)


def test_the_writer_refuses_what_does_not_belong_together(tmp_path: Path) -> None:
    honest = list(facts(4, b"raw"))
    tree, key, path = Tree([bytes.fromhex(f.digest) for f in honest]), generate(), tmp_path / "b.zip"
    good = make_checkpoint(4, tree.root(), AT, key)
    for chosen, checkpoint in (
        ([honest[1], honest[0]], good),
        ([honest[0], honest[0]], good),
        (honest, make_checkpoint(3, tree.root(3), AT, key)),
        (honest, make_checkpoint(4, bytes(32), AT, key)),
    ):
        with pytest.raises(ValueError):
            write(path, subject="x", facts=chosen, tree=tree, checkpoint=checkpoint, key=key, made_at=AT)
    for name in ("../x", "/x", "a//b", "é", "a\\b", ""):
        with pytest.raises(ContainerError):
            write_container(path, [Member(name, b"")])
    with pytest.raises(ContainerError):
        write_container(path, [Member("a", b""), Member("a", b"")])
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("data", [b"", b"x", b"PK\x03\x04", b"%PDF-1.7\n" * 100, bytes(5000)])
def test_what_is_no_bundle_is_said_to_be_none(tmp_path: Path, data: bytes) -> None:
    assert "container" in places(tmp_path / "x", data)


def test_an_ordinary_zip_of_the_same_files_is_reported(made: Made, tmp_path: Path) -> None:
    """Packed again by another program: the contents are whole, the container is another one, and that is said."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, data in made.members().items():
            archive.writestr(name, data)
    assert places(tmp_path / "x.zip", out.getvalue())


def test_from_the_command_line_without_django(made: Made, tmp_path: Path) -> None:
    program = (
        "import sys, runpy\n"
        "sys.argv = ['verify', *sys.argv[1:]]\n"
        "try:\n    runpy.run_module('evenpull.evidence.verify', run_name='__main__')\n"
        "finally:\n    assert not {'django', 'evenpull.store'} & set(sys.modules), 'Django was loaded'\n"
    )

    def run(*arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run([sys.executable, "-c", program, *arguments], capture_output=True, text=True, cwd=tmp_path)

    good = run(str(made.path), "--key", made.key.public.fingerprint)
    assert good.returncode == 0 and "nothing was changed" in good.stdout, good.stderr
    broken = tmp_path / "broken.zip"
    broken.write_bytes(made.data.replace(b'"fastener":5', b'"fastener":6'))
    bad = run(str(broken))
    assert bad.returncode == 1 and "fact 4" in bad.stdout
    assert run(str(tmp_path / "none.zip")).returncode == 2
    assert run(str(made.path), "--key", "12").returncode == 2


def test_deeply_nested_json_is_a_finding_and_no_crash(made: Made, tmp_path: Path) -> None:
    deep = b"[" * 100_000
    for name in ("facts.jsonl", "proofs.jsonl", "manifest.json", "seal.json", "checkpoint.json"):
        assert resealed(tmp_path / "x", made.members() | {name: deep}), name
    assert json.loads(made.members()["manifest.json"])["facts"] == 4
