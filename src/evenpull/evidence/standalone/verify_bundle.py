#!/usr/bin/env python3
"""Check an evidence bundle with nothing but Python (3.9 or newer) and the library `cryptography`.

    python verify_bundle.py BUNDLE [--key FINGERPRINT]

Exit code 0: nothing was changed since it was sealed; 1: something was, and it is named; 2: it could not be read.
Written on its own, apart from the program that made the bundle, so that one can be compared with the other. Standards:
canonical JSON RFC 8785, Ed25519 RFC 8032, hash tree RFC 6962 (checked as in RFC 9162), time-stamps RFC 3161.
"""

from __future__ import annotations

import argparse
import base64
import json
import math
import re
import struct
import sys
import zlib
from collections.abc import Callable, Iterable, Iterator
from hashlib import sha256
from pathlib import Path
from typing import Any

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

UNREADABLE = (ValueError, KeyError, TypeError, AttributeError, IndexError, RecursionError, struct.error)
FIRST = ["README.txt", "seal.json", "manifest.json"]
SECOND_FORM = [
    "README.txt", "contents.txt", "facts.txt", "verify_bundle.py", "key.pem", "keys.jsonl", "checkpoint.json",
    "earlier.jsonl", "facts.jsonl", "proofs.jsonl",
]  # fmt: skip
ED25519 = bytes.fromhex("302a300506032b6570032100")  # what stands before the 32 bytes of a public key, RFC 8410
STATEMENT = {"form", "size", "root", "time", "old_key", "new_key", "signature_old", "signature_new"}


class Wrong(ValueError):  # noqa: N818 - named for what it says
    """Something that does not hold; the text says what."""


def need(good: object, what: str) -> None:
    if not good:
        raise Wrong(what)


# Canonical JSON, RFC 8785


def canonical(value: Any) -> bytes:
    """The one spelling of a JSON value, as UTF-8. ValueError where there is none."""
    return spelt(value).encode("utf-8")


def spelt(value: Any) -> str:
    if value is None or isinstance(value, (bool, str)):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, int):
        need(abs(value) < 1 << 53, "a whole number beyond 2^53 - 1")
        return str(value)
    if isinstance(value, float):
        return number(value)
    if isinstance(value, list):
        return "[" + ",".join(map(spelt, value)) + "]"
    names = sorted(value, key=lambda name: name.encode("utf-16-be"))
    return "{" + ",".join(spelt(name) + ":" + spelt(value[name]) for name in names) + "}"


def number(value: float) -> str:
    """As ECMAScript writes it (ECMA-262, Number::toString): the shortest digits that read back the same."""
    need(math.isfinite(value), "a number that is none")
    if value == 0:
        return "0"
    mantissa, _, exponent = repr(abs(value)).partition("e")
    whole, _, part = mantissa.partition(".")
    digits, point = whole + part, len(whole) + int(exponent or 0)
    point -= len(digits) - len(digits.lstrip("0"))
    digits = digits.strip("0")
    sign = "-" if value < 0 else ""
    if len(digits) <= point <= 21:
        return sign + digits + "0" * (point - len(digits))
    if 0 < point <= 21:
        return sign + digits[:point] + "." + digits[point:]
    if -6 < point <= 0:
        return sign + "0." + "0" * -point + digits
    rest = "." + digits[1:] if digits[1:] else ""
    return f"{sign}{digits[0]}{rest}e{point - 1:+d}"


def exact(text: bytes, what: str) -> Any:
    """JSON that is byte for byte in its canonical form."""
    value = json.loads(text)
    need(canonical(value) == text, f"{what} is not in the form in which it is written")
    return value


def is_hash(text: object) -> bool:
    return isinstance(text, str) and re.fullmatch("[0-9a-f]{64}", text) is not None


def signed(key: bytes, signature: str, message: bytes) -> bool:
    """Whether the holder of `key` (32 bytes) signed the message; the signature in small hexadecimal digits."""
    if not re.fullmatch("[0-9a-f]{128}", signature):
        return False
    try:
        Ed25519PublicKey.from_public_bytes(key).verify(bytes.fromhex(signature), message)
    except InvalidSignature:
        return False
    return True


# Hash tree, RFC 6962; the checks of proofs as in RFC 9162 2.1.3.2 and 2.1.4.2


def node(left: bytes, right: bytes) -> bytes:
    return sha256(b"\x01" + left + right).digest()


def log_root(leaves: Iterable[bytes]) -> bytes:
    """Root of the whole log from the digests of all its facts."""
    stack: list[bytes] = []
    for count, leaf in enumerate(leaves):
        top = sha256(b"\x00" + leaf).digest()
        while count & 1:
            top, count = node(stack.pop(), top), count >> 1
        stack.append(top)
    top = stack.pop() if stack else sha256(b"").digest()
    while stack:
        top = node(stack.pop(), top)
    return top


def climb(place: int, last: int, path: list[bytes], steps: Callable[[bytes, bool], object]) -> None:
    """Go up from `place` in a tree whose last leaf is `last`; `steps` are called with (sibling, sibling is left)."""
    for sibling in path:
        need(last > 0, "the proof is too long")
        left = bool(place & 1) or place == last
        steps(sibling, left)
        if left:
            while not place & 1 and place:
                place, last = place >> 1, last >> 1
        place, last = place >> 1, last >> 1
    need(last == 0, "the proof is too short")


def check_inclusion(leaf: bytes, index: int, size: int, path: list[bytes], root: bytes) -> None:
    need(0 <= index < size, "it cannot be in a log of that size")
    top = [sha256(b"\x00" + leaf).digest()]
    climb(index, size - 1, path, lambda s, left: top.append(node(s, top[-1]) if left else node(top[-1], s)))
    need(top[-1] == root, "its proof does not lead to the signed root of the log")


def check_consistency(earlier: int, old_root: bytes, size: int, root: bytes, path: list[bytes]) -> None:
    need(0 < earlier <= size, "it is not earlier")
    if earlier == size:
        need(not path and old_root == root, "two states of the same size with different roots")
        return
    steps = list(path) if earlier & (earlier - 1) else [old_root, *path]
    need(steps, "the proof is too short")
    place, last = earlier - 1, size - 1
    while place & 1:
        place, last = place >> 1, last >> 1
    old, new = [steps[0]], [steps[0]]

    def step(sibling: bytes, left: bool) -> None:
        if left:
            old.append(node(sibling, old[-1]))
        new.append(node(sibling, new[-1]) if left else node(new[-1], sibling))

    climb(place, last, steps[1:], step)
    need(old[-1] == old_root, "the later log does not begin with it")
    need(new[-1] == root, "its proof does not lead to the signed root of the log")


# The container: ZIP with one possible spelling (stored, no times, no extras)


def members(data: bytes) -> tuple[dict[str, bytes], str]:
    """(name -> content in order, what is wrong with the container)."""
    found: dict[str, bytes] = {}
    directory, place, wrong = b"", 0, ""
    while data[place : place + 4] == b"PK\x03\x04" and len(data) >= place + 30:
        crc, size, length = struct.unpack_from("<I4xIH", data, place + 14)
        name = data[place + 30 : place + 30 + length]
        content = data[place + 30 + length : place + 30 + length + size]
        about = struct.pack("<IIIHH", crc, size, size, length, 0)
        head = struct.pack("<4sHHHHH", b"PK\x03\x04", 20, 0, 0, 0, 0x21) + about + name
        if data[place : place + len(head)] != head or len(content) != size:
            return found, f"the file that begins at byte {place} cannot be read as it was written"
        if crc != zlib.crc32(content):
            wrong = wrong or f"the check sum of the file that begins at byte {place} does not fit"
        if name.decode("latin-1") in found:
            return found, f"{name!r} is in it a second time"
        directory += struct.pack("<4sHHHHHH", b"PK\x01\x02", 3 << 8 | 20, 20, 0, 0, 0, 0x21) + about
        directory += struct.pack("<HHHII", 0, 0, 0, 0o100644 << 16, place) + name
        found[name.decode("latin-1")] = content
        place += len(head) + size
    end = struct.pack("<4sHHHHIIH", b"PK\x05\x06", 0, 0, len(found), len(found), len(directory), place, 0)
    return found, wrong if data[place:] == directory + end else f"what begins at byte {place} is not as it was written"


# Time-stamp tokens, RFC 3161: what they are about and which time they state


def parts(data: bytes) -> list[tuple[int, bytes]]:
    """(tag, content) of each DER element."""
    found, place = [], 0
    while place < len(data):
        tag, length, place = data[place], data[place + 1], place + 2
        if length & 0x80:
            count = length & 0x7F
            length, place = int.from_bytes(data[place : place + count], "big"), place + count
        need(place + length <= len(data), "a token that ends too early")
        found.append((tag, data[place : place + length]))
        place += length
    return found


def stamped(token: bytes) -> tuple[bytes, str]:
    """(SHA-256 that a token is about, time it states as YYYYMMDDhhmmss...Z)."""
    outer = parts(parts(token)[0][1])
    if outer[0][0] == 0x30:  # a response: status first, then the token
        outer = parts(outer[1][1])
    signed_data = parts(parts(outer[1][1])[0][1])
    wrapped = parts(signed_data[2][1])
    need(wrapped[0][1] == bytes.fromhex("2a864886f70d0109100104"), "a token that is no time-stamp")
    info = parts(parts(parts(wrapped[1][1])[0][1])[0][1])
    method, imprint = parts(info[2][1])
    need(parts(method[1])[0][1] == bytes.fromhex("608648016503040201"), "a token not made with SHA-256")
    return imprint[1], info[4][1].decode("ascii")


# The facts in plain lines


HIDDEN = re.compile("[\x00-\x1f\x7f-\x9f\u200e\u200f\u2028\u2029\u202a-\u202e\u2066-\u2069\ufeff]")
QUOTED = re.compile(r"[-+0-9.,eE]*|true|false|null|[ \"].*|.* ")
LABELS = {"kind": "what", "joint": "joint", "key": "key", "author": "who", "received_at": "received",
          "written_at": "written"}  # fmt: skip


def shown(value: Any) -> str:
    if not isinstance(value, str):
        return spelt(value)
    text = HIDDEN.sub(lambda found: f"\\u{ord(found[0]):04x}", value)
    return f'"{text}"' if QUOTED.fullmatch(value) else text


def nested(value: Any, indent: str) -> Iterator[str]:
    for name, item in sorted(value.items()) if isinstance(value, dict) else [(None, item) for item in value]:
        head = f"{indent}-" if name is None else f"{indent}{shown(name)}:"
        if not isinstance(item, (dict, list)):
            yield f"{head} {shown(item)}"
        else:
            yield head if item else f"{head} (nothing)"
            yield from nested(item, indent + "  ")


def plain(seq: int, digest: str, fact: Any) -> Iterator[str]:
    yield from ("", f"Fact {seq}")
    rest = dict(fact) if isinstance(fact, dict) else {"body": fact}
    for name, label in LABELS.items():
        if isinstance(rest.get(name), str):
            yield f"  {label}: {shown(rest.pop(name))}"
    yield f"  digest: {digest}"
    rest.pop("seq", None)
    yield from nested({"content" if name == "body" else name: item for name, item in rest.items()}, "  ")


class Bundle:
    """One run over one bundle; `problems` in the order in which they were met."""

    def __init__(self, data: bytes, wanted: str) -> None:
        self.problems: list[str] = []
        self.proven: list[str] = []
        self.files, wrong = members(data)
        if wrong:
            self.problems.append(f"container: {wrong}")
        self.manifest: dict[str, Any] = {}
        self.facts: dict[int, tuple[str, Any]] = {}  # place in the log -> digest, fact
        self.earlier: list[dict[str, Any]] = []
        self.chain: list[tuple[int, bytes]] = []  # size of the log after which it signs, key
        for name, check in (
            ("key.pem", self.read_key), ("seal.json", self.check_seal), ("manifest.json", self.check_files),
            ("checkpoint.json", self.check_checkpoint), ("facts.jsonl", self.check_facts), ("raw/", self.check_raw),
        ):  # fmt: skip
            self.run(name, check)
        if self.manifest.get("form") == "evenpull bundle 2":
            for name, check in (
                ("keys.jsonl", self.check_keys), ("earlier.jsonl", self.check_earlier), ("facts.txt", self.check_text),
                ("contents.txt", self.check_contents), ("time-stamps", self.check_stamps),
                ("releases", self.check_releases),
            ):  # fmt: skip
                self.run(name, check)
        if wanted and wanted not in [sha256(key).hexdigest() for _, key in self.chain]:
            self.problems.append("key.pem: sealed by another key than the one you gave")

    def run(self, name: str, check: Callable[[], None]) -> None:
        try:
            check()
        except Wrong as error:
            self.problems.append(f"{name}: {error}")
        except UNREADABLE as error:
            self.problems.append(f"{name}: cannot be read ({type(error).__name__}: {str(error)[:80]})")

    def read_key(self) -> None:
        head, text, *tail = self.files["key.pem"].split(b"\n")
        known, self.key = base64.b64decode(text)[:12], base64.b64decode(text)[12:]
        good = head == b"-----BEGIN PUBLIC KEY-----" and tail == [b"-----END PUBLIC KEY-----", b""]
        good = good and known == ED25519 and len(self.key) == 32 and base64.b64encode(known + self.key) == text
        need(good, "not an Ed25519 key in the form in which it is written (RFC 8410)")
        self.chain = [(0, self.key)]

    def check_seal(self) -> None:
        seal, manifest = exact(self.files["seal.json"], "it"), self.files["manifest.json"]
        unsigned = {name: value for name, value in seal.items() if name != "signature"}
        need(seal["form"] == "evenpull seal 1" and seal["key"] == sha256(self.key).hexdigest(), "another key")
        need(signed(self.key, seal["signature"], canonical(unsigned)), "the signature does not fit")
        about = seal["manifest"]
        need((about["sha256"], about["size"]) == (sha256(manifest).hexdigest(), len(manifest)), "another manifest")

    def check_files(self) -> None:
        found = exact(self.files["manifest.json"], "it")
        need(found["form"] in ("evenpull bundle 1", "evenpull bundle 2"), "a form that this program does not know")
        need(found["key"] == sha256(self.key).hexdigest(), "names another key")
        self.manifest, names = found, [entry["name"] for entry in found["files"]]
        for entry in found["files"]:
            data = self.files.get(entry["name"])
            if data is None:
                self.problems.append(f"{entry['name']}: is missing")
            elif (sha256(data).hexdigest(), len(data)) != (entry["sha256"], entry["size"]):
                self.problems.append(f"{entry['name']}: was changed")
        self.problems += [f"{n}: was added" for n in self.files if n not in names and n not in FIRST]
        wanted = FIRST + [name for name in names if name != FIRST[0]]
        need(wanted == list(self.files), "files are missing, added or in another order")
        lacking = [n for n in SECOND_FORM if n not in names]
        need(found["form"] == "evenpull bundle 1" or not lacking, f"does not name {', '.join(lacking)}")

    def check_checkpoint(self) -> None:
        text = self.files["checkpoint.json"]
        self.state = self.read_state(exact(text[:-1], "it"))
        need(text.endswith(b"\n"), "not in the form in which it is written")
        need(self.signed_state(self.state, self.key), "the signature does not fit")
        log = {"size": self.state["size"], "root": self.state["root"]}
        need(self.manifest.get("log") == log, "not the state of the log that was sealed")

    @staticmethod
    def read_state(state: dict[str, Any]) -> dict[str, Any]:
        good = set(state) == {"form", "size", "root", "time", "key", "signature"} and is_hash(state["root"])
        need(good and state["form"] == "evenpull checkpoint 1" and type(state["size"]) is int, "no state of a log")
        need(re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{1,6}Z", state["time"]), "no time")
        return state

    @staticmethod
    def signed_state(state: dict[str, Any], key: bytes) -> bool:
        message = canonical({name: value for name, value in state.items() if name != "signature"})
        return state["key"] == sha256(key).hexdigest() and signed(key, state["signature"], message)

    def lines(self, name: str, field: str) -> Iterator[tuple[int, str, Any]]:
        last = -1
        for count, line in enumerate(self.files[name].splitlines(keepends=True), start=1):
            data = exact(line[:-1], f"line {count} of {name}")
            good = line.endswith(b"\n") and set(data) == {"digest", field, "seq"} and is_hash(data["digest"])
            need(good and type(data["seq"]) is int, f"line {count} of {name} cannot be read")
            need(data["seq"] > last, f"line {count} of {name}: fact {data['seq']} is out of its order")
            last = data["seq"]
            yield last, data["digest"], data[field]

    def check_facts(self) -> None:
        proofs = {seq: (digest, path) for seq, digest, path in self.lines("proofs.jsonl", "path")}
        size, root = self.state["size"], bytes.fromhex(self.state["root"])
        for seq, digest, fact in self.lines("facts.jsonl", "fact"):
            self.facts[seq] = (digest, fact)
            need(sha256(canonical(fact)).hexdigest() == digest, f"fact {seq} does not fit its digest")
            need(not isinstance(fact, dict) or fact.get("seq", seq) == seq, f"fact {seq} says it is another one")
            need(seq in proofs and proofs[seq][0] == digest, f"fact {seq} has no proof, or one of another content")
            need(all(is_hash(step) for step in proofs[seq][1]), f"the proof of fact {seq} cannot be read")
            path = [bytes.fromhex(step) for step in proofs[seq][1]]
            try:
                check_inclusion(bytes.fromhex(digest), seq, size, path, root)
            except Wrong as error:
                raise Wrong(f"fact {seq} is not proven to be in the log: {error}") from error
        need(set(proofs) == set(self.facts), "a fact is missing: its proof is there")
        need(self.manifest.get("facts") == len(self.facts), "not as many facts as were sealed")
        if list(self.facts) == list(range(size)):
            whole = log_root(bytes.fromhex(digest) for digest, _ in self.facts.values())
            need(whole == root, "all facts together do not give the signed root")
        self.proven.append(f"{len(self.facts)} facts are in the signed log of {size}, as they were written")

    def check_raw(self) -> None:
        text, count = self.files["facts.jsonl"], 0
        for name, data in self.files.items():
            if name.startswith("raw/"):
                count += 1
                need("raw/" + sha256(data).hexdigest() == name, f"{name}: its content is not the one it is named after")
                need(name[4:].encode("latin-1") in text, f"{name}: no fact names it")
        self.proven.append(f"{count} files are as they were received: the facts name their SHA-256")

    def check_keys(self) -> None:
        chain: list[tuple[int, bytes]] = []
        sizes: list[tuple[int, str]] = []
        for line in self.files["keys.jsonl"].splitlines(keepends=True):
            body = exact(line[:-1], "a line")
            message = canonical({name: value for name, value in body.items() if not name.startswith("signature_")})
            old, new = bytes.fromhex(body["old_key"]), bytes.fromhex(body["new_key"])
            good = set(body) == STATEMENT and body["form"] == "evenpull key succession 1" and line.endswith(b"\n")
            good = good and signed(old, body["signature_old"], message) and signed(new, body["signature_new"], message)
            chain = chain or [(0, old)]
            need(good and type(body["size"]) is int and body["size"] > 0 and chain[-1][1] == old, "does not hold")
            need(not sizes or body["size"] > sizes[-1][0], "not in the order of the log")
            need(new not in [key for _, key in chain], "a key takes over a second time")
            fact = self.facts.get(body["size"], ("", None))[1]
            need(isinstance(fact, dict) and fact.get("kind") == "key succeeded" and fact.get("body") == body,
                 f"fact {body['size']} of the log is not this statement")  # fmt: skip
            sizes.append((body["size"], body["root"]))
            chain.append((body["size"], new))
        need(not chain or chain[-1][1] == self.key, "leads to another key")
        self.chain, self.handed = chain or self.chain, sizes
        if chain:
            self.proven.append(f"the signing key was renewed {len(chain) - 1} times, each time signed by both keys")

    def check_earlier(self) -> None:
        last = 0
        for line in self.files["earlier.jsonl"].splitlines(keepends=True):
            data = exact(line[:-1], "a line")
            state, size = self.read_state(data["checkpoint"]), data["checkpoint"]["size"]
            need(line.endswith(b"\n") and set(data) == {"checkpoint", "path"}, "a line cannot be read")
            need(all(is_hash(step) for step in data["path"]) and last < size < self.state["size"], "out of its order")
            key = [key for since, key in self.chain if size > since][-1]
            need(self.signed_state(state, key), f"the state of {size} facts is not signed by the key in force then")
            path = [bytes.fromhex(step) for step in data["path"]]
            roots = bytes.fromhex(state["root"]), bytes.fromhex(self.state["root"])
            check_consistency(size, roots[0], self.state["size"], roots[1], path)
            self.earlier.append(state)
            last = size
        for pair in self.handed:
            need(pair in [(s["size"], s["root"]) for s in self.earlier], "lacks the state before a change of key")
        self.proven.append(f"the log only grew since {len(self.earlier)} earlier signed states: none was rewritten")

    def check_text(self) -> None:
        lines = [line for seq, (digest, fact) in self.facts.items() for line in plain(seq, digest, fact)]
        rest = self.files["facts.txt"].partition(b"\n\n")[2]
        need(rest == "\n".join([*lines, ""])[1:].encode("utf-8"), "does not say what facts.jsonl says")

    def check_contents(self) -> None:
        wanted = [f"{e['sha256']}  {e['name']}" for e in self.manifest["files"] if e["name"] != "contents.txt"]
        found = [line for line in self.files["contents.txt"].split(b"\n") if line and not line.startswith(b"#")]
        need(found == [line.encode() for line in wanted], "does not list what the manifest lists")

    def check_stamps(self) -> None:
        for seq, (_, fact) in self.facts.items():
            if not isinstance(fact, dict) or fact.get("kind") != "time-stamp":
                continue
            state, name = fact["body"]["checkpoint"], "raw/" + fact["body"]["token"]
            need(state in [*self.earlier, self.state], f"fact {seq} is about a state that is not in the bundle")
            need(name in self.files, f"{name}, the token of fact {seq}, is missing")
            imprint, time = stamped(self.files[name])
            need(imprint == sha256(canonical(state) + b"\n").digest(), f"{name}: it is about something else")
            need(time[:14] == re.sub(r"\D", "", fact["body"]["at"])[:14], f"{name}: it states another time")
            self.proven.append(
                f"a time-stamp token states {fact['body']['at']} for the state of {state['size']} facts; its signature "
                f"was NOT checked here: openssl ts -verify -in {name} -digest {imprint.hex()} -CAfile AUTHORITY.pem"
            )


    def check_releases(self) -> None:
        count = 0
        for seq, (_, fact) in self.facts.items():
            if not isinstance(fact, dict) or fact.get("kind") != "release":
                continue
            body, key = fact["body"], [key for since, key in self.chain if seq + 1 > since][-1]
            about = body["signed"]["joint"] if isinstance(body["signed"], dict) else None
            need(about is not None and about == fact["joint"], f"fact {seq}: not the release of its joint")
            need(body["key"] == sha256(key).hexdigest(), f"fact {seq}: not by the key in force then")
            need(signed(key, body["signature"], canonical(body["signed"])), f"fact {seq}: its signature does not fit")
            count += 1
        if count:
            self.proven.append(f"{count} signed releases: each by the key of the folder that was in force then")


def main(arguments: list[str]) -> int:
    options = argparse.ArgumentParser(description="Check that nothing in an evidence bundle was changed.")
    options.add_argument("bundle", help="the bundle file")
    options.add_argument("--key", help="fingerprint of the key that must have sealed it (64 characters 0-9 a-f)")
    given = options.parse_args(arguments)
    wanted = re.sub("[ :]", "", given.key or "").lower()
    if given.key is not None and not is_hash(wanted):
        print("--key: a fingerprint has 64 characters 0-9 a-f", file=sys.stderr)
        return 2
    try:
        data = Path(given.bundle).read_bytes()
    except OSError as error:
        print(f"{given.bundle}: {error.strerror}", file=sys.stderr)
        return 2
    found = Bundle(data, wanted)
    print(f"bundle sha256 {sha256(data).hexdigest()}")
    if found.problems:
        print(f"CHANGED: {len(found.problems)} thing(s) not as sealed")
        for problem in found.problems:
            print("  " + problem.encode("ascii", "backslashreplace").decode())
        return 1
    print(f"nothing was changed: about {shown(found.manifest['subject'])}, sealed {found.manifest['made_at']}")
    print(f"sealed by key {sha256(found.key).hexdigest()}")
    print("What this proves:")
    for line in found.proven:
        print(f"  - {line}")
    print("What it does not prove:")
    if not wanted:
        print("  - who sealed it: compare the key with the one you got from its owner by another way, or give --key")
    print("  - that what was stated is true in the world, or that everything that happened was written down")
    print("  - when it was sealed, unless a time-stamp token of an authority you trust says so")
    print("  - that this program is the true one, if you took it out of the same bundle")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
