"""The program that lies in each bundle: alone in an empty folder, and of one mind with the check of the package."""

from __future__ import annotations

import ast
import runpy
import subprocess
import sys
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path
from random import Random
from typing import Any

import pytest
import rfc8785
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from evenpull.evidence import verify
from evenpull.evidence.bundle import VERIFIER_SOURCE
from evenpull.evidence.canonical import canonical
from evenpull.evidence.container import Member, write_container
from evenpull.evidence.sign import generate
from tests.evidence.bundles import Made, make
from tests.evidence.rich import Log, make_rich
from tests.evidence.sealing import sealed_anew
from tests.evidence.stamping import authority

OLD = Path(__file__).parent / "data" / "form-1.bundle.zip"
# Runs main() on each file named and says its exit code; nothing of evenpull can be imported meanwhile.
MANY = """
import contextlib, io, runpy, sys
sys.modules["evenpull"] = None
program = runpy.run_path("verify_bundle.py")
for name in sys.argv[1:]:
    with contextlib.redirect_stdout(io.StringIO()):
        code = program["main"]([name])
    print(name, code)
assert not [name for name in sys.modules if name.startswith(("evenpull.", "rfc8785", "asn1crypto", "django"))]
"""


@pytest.fixture(scope="module")
def program() -> dict[str, Any]:
    return runpy.run_path(str(VERIFIER_SOURCE))


@pytest.fixture(scope="module")
def rich(tmp_path_factory: pytest.TempPathFactory) -> tuple[Made, Log]:
    return make_rich(tmp_path_factory.mktemp("rich"), authority(tmp_path_factory.mktemp("clock")))


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return make(tmp_path_factory.mktemp("plain"))


@pytest.fixture
def clean(tmp_path: Path, rich: tuple[Made, Log]) -> Path:
    """A folder with nothing but the program, taken out of a bundle."""
    (tmp_path / "verify_bundle.py").write_bytes(rich[0].members()["verify_bundle.py"])
    return tmp_path


def run(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-I", *arguments], cwd=folder, capture_output=True, text=True, timeout=300,
                          env={"PATH": "/usr/bin:/bin"}, check=False)  # fmt: skip


def good(program: dict[str, Any], data: bytes) -> bool:
    return not program["Bundle"](data, "").problems


def test_it_needs_the_standard_library_and_one_other() -> None:
    tree = ast.parse(VERIFIER_SOURCE.read_text())
    roots = {a.name.split(".")[0] for n in ast.walk(tree) if isinstance(n, ast.Import) for a in n.names}
    roots |= {(n.module or "").split(".")[0] for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)}
    assert roots - set(sys.stdlib_module_names) == {"cryptography"}


def test_alone_in_an_empty_folder(clean: Path, rich: tuple[Made, Log]) -> None:
    made, log = rich
    (clean / "b.zip").write_bytes(made.data)
    (clean / "old.zip").write_bytes(OLD.read_bytes())
    told = run(clean, "verify_bundle.py", "b.zip")
    assert told.returncode == 0, told.stdout + told.stderr
    for words in ("What this proves", "What it does not prove", "who sealed it", "only grew since 8 earlier",
                  "2 signed releases", "renewed 2 times", "NOT checked here", made.key.public.fingerprint,
                  "facts are in the signed log of"):
        assert words in told.stdout, (words, told.stdout)
    for key in (made.key.public.fingerprint, log.successions[0].old.fingerprint.upper()):
        assert run(clean, "verify_bundle.py", "b.zip", "--key", key).returncode == 0
    assert run(clean, "verify_bundle.py", "b.zip", "--key", generate().public.fingerprint).returncode == 1
    assert run(clean, "verify_bundle.py", "b.zip", "--key", "12").returncode == 2
    assert run(clean, "verify_bundle.py", "none.zip").returncode == 2
    assert run(clean, "verify_bundle.py", "old.zip").returncode == 0
    (clean / "bad.zip").write_bytes(made.data.replace(b'"fastener":2', b'"fastener":3'))
    bad = run(clean, "verify_bundle.py", "bad.zip")
    assert bad.returncode == 1 and "facts.jsonl: was changed" in bad.stdout and "fact 6" in bad.stdout, bad.stdout


def mutations(data: bytes, random: Random, count: int) -> Iterator[bytes]:
    for _ in range(count):
        start = random.randrange(len(data))
        piece = data[start : start + random.randrange(1, 60)]
        yield random.choice(
            [
                data[:start] + bytes([data[start] ^ (1 << random.randrange(8))]) + data[start + 1 :],
                data[:start] + data[start + len(piece) :],
                data[:start] + piece + data[start:],
                data[:start],
                data[:start] + random.randbytes(random.randrange(1, 9)) + data[start:],
            ]
        )


def test_hundreds_of_damaged_bundles_are_refused_alone(clean: Path, rich: tuple[Made, Log], plain: Made) -> None:
    random, names = Random(20260319), []
    for number, data in enumerate((rich[0].data, plain.data, OLD.read_bytes())):
        for count, damaged in enumerate([data, *mutations(data, random, 150)]):
            names.append(f"{number}-{count}.zip")
            (clean / names[-1]).write_bytes(damaged)
    told = run(clean, "-c", MANY, *names)
    assert told.returncode == 0, told.stderr
    codes = dict(line.split() for line in told.stdout.splitlines())
    assert set(codes) == set(names)
    for name, code in codes.items():
        assert (code == "0") == verify(clean / name).ok == name.endswith("-0.zip"), name


@settings(max_examples=300, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(data=st.data())
def test_of_one_mind_about_damage_that_is_sealed_again(
    program: dict[str, Any], rich: tuple[Made, Log], tmp_path: Path, data: st.DataObject
) -> None:
    """Any file changed by its own key holder, with the manifest and the seal made to fit: the same verdict."""
    made, log = rich
    members, path = made.members(), tmp_path / "b.zip"
    name = data.draw(st.sampled_from([n for n in members if n not in ("manifest.json", "seal.json")]))
    text = members[name]
    lines = text.splitlines(keepends=True)
    way = data.draw(st.sampled_from(["drop", "swap", "double", "byte", "empty", "none", "digit", "value"]))
    changed: bytes | None = text
    if way in ("drop", "swap", "double") and lines:
        one, two = (data.draw(st.integers(0, len(lines) - 1)) for _ in range(2))
        if way == "drop":
            del lines[one]
        elif way == "swap":
            lines[one], lines[two] = lines[two], lines[one]
        else:
            lines.insert(two, lines[one])
        changed = b"".join(lines)
    elif way == "byte" and text:
        place = data.draw(st.integers(0, len(text) - 1))
        changed = text[:place] + bytes([text[place] ^ (1 << data.draw(st.integers(0, 7)))]) + text[place + 1 :]
    elif way == "digit":
        places = [i for i, byte in enumerate(text) if byte in b"0123456789abcdef"]
        if places:
            place = data.draw(st.sampled_from(places))
            changed = text[:place] + bytes([data.draw(st.sampled_from(list(b"0123456789abcdef")))]) + text[place + 1 :]
    elif way == "value" and name.endswith(("json", "jsonl")) and lines:
        old = data.draw(st.sampled_from([b"true", b"null", b"1", b'"', b":", b"{}", b"[]", b"e"]))
        new = data.draw(st.sampled_from([b"false", b"1.0", b"null", b"{}", b"[]", b"[[", b'"\\ud800"', b""]))
        changed = text.replace(old, new, 1)
    elif way == "empty":
        changed = b""
    elif way == "none":
        changed = None
    sealed_anew(path, members, log.key, {name: changed})
    assert good(program, path.read_bytes()) == verify(path).ok, (name, way)


@settings(max_examples=200, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(data=st.data())
def test_of_one_mind_about_files_moved_and_left_out(
    program: dict[str, Any], plain: Made, tmp_path: Path, data: st.DataObject
) -> None:
    """A well-made container of other files, in another order, of another content."""
    members, path = plain.members(), tmp_path / "b.zip"
    names = data.draw(st.permutations(list(members))) if data.draw(st.booleans()) else list(members)
    kept = names[: data.draw(st.integers(1, len(names)))] if data.draw(st.booleans()) else names
    swapped = dict(zip(kept, [members[n] for n in kept], strict=True))
    if data.draw(st.booleans()):
        one, two = (data.draw(st.sampled_from(kept)) for _ in range(2))
        swapped[one], swapped[two] = swapped[two], swapped[one]
    if data.draw(st.booleans()):
        swapped[data.draw(st.sampled_from(["more.txt", "raw/x", "reports/x"]))] = b"more"
    write_container(path, [Member(name, content) for name, content in swapped.items()])
    same = path.read_bytes() == plain.data
    assert good(program, path.read_bytes()) == verify(path).ok == same


numbers = st.one_of(
    st.floats(allow_nan=False, allow_infinity=False), st.integers(-(2**53) + 1, 2**53 - 1),
    st.floats(min_value=1e-8, max_value=1e-4), st.floats(min_value=1e19, max_value=1e23),
)  # fmt: skip
scalars = st.one_of(st.none(), st.booleans(), numbers, st.text())
values = st.recursive(scalars, lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner), max_leaves=25)


@settings(max_examples=1500, deadline=None)
@given(values)
@example({"\U0001f529": 1, "\ufb33": 2, "\u20ac": 3, "\r": 4, "1": 5, "\u0080": 6, "\u00f6": 7, "\U0001f600": 8})
@example([0.0, -0.0, 5e-324, 1.7976931348623157e308, 1e21, 1e20, 123456789012345680000.0, 1e-6, 1e-7, 9.9e22])
@example([9007199254740991, -9007199254740991, 9007199254740994.0, 295147905179352830000.0, 333333333.33333325, 0.1])
@example("\x00\x1f\x7f\u2028\b\t\n\f\r\"\\/\U0010ffff")
def test_canonical_json_is_that_of_the_library(program: dict[str, Any], value: Any) -> None:
    """RFC 8785 in the standard library alone against the package rfc8785."""
    assert program["canonical"](value) == rfc8785.dumps(value) == canonical(value)


@pytest.mark.parametrize(
    "value", [float("nan"), float("inf"), 2**53, -(2**53), "\ud800", {"\udfff": 1}, [1, {"a": -float("inf")}]]
)
def test_what_has_no_canonical_form_is_refused(program: dict[str, Any], value: Any) -> None:
    with pytest.raises(ValueError):
        program["canonical"](value)
    with pytest.raises(ValueError):
        canonical(value)


# RFC 8785 appendix B: IEEE 754 bits and their text (from memory, not re-read).
@pytest.mark.parametrize(("bits", "text"), [
    ("0000000000000000", "0"), ("8000000000000000", "0"), ("0000000000000001", "5e-324"),
    ("8000000000000001", "-5e-324"), ("7fefffffffffffff", "1.7976931348623157e+308"),
    ("4340000000000000", "9007199254740992"), ("c340000000000000", "-9007199254740992"),
    ("4430000000000000", "295147905179352830000"), ("44b52d02c7e14af5", "9.999999999999997e+22"),
    ("44b52d02c7e14af6", "1e+23"), ("444b1ae4d6e2ef4e", "999999999999999700000"), ("444b1ae4d6e2ef50", "1e+21"),
    ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"), ("3eb0c6f7a0b5ed8d", "0.000001"),
    ("41b3de4355555553", "333333333.3333332"), ("41b3de4355555557", "333333333.33333343"),
    ("becbf647612f3696", "-0.0000033333333333333333"), ("43143ff3c1cb0959", "1424953923781206.2"),
])  # fmt: skip
def test_numbers_of_the_standard(program: dict[str, Any], bits: str, text: str) -> None:
    import struct

    (value,) = struct.unpack(">d", bytes.fromhex(bits))
    assert program["canonical"](value).decode() == text


def test_the_copy_in_the_documents_is_the_same() -> None:
    docs = Path(__file__).parents[2] / "docs"
    assert (docs / "verify_bundle.py").read_bytes() == VERIFIER_SOURCE.read_bytes()
    assert f"    {sha256(VERIFIER_SOURCE.read_bytes()).hexdigest()}\n" in (docs / "evidence.md").read_text()
