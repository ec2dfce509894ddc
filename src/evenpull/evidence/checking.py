"""Checking a bundle: names every file, fact and byte region that is not as it was sealed. No database, no network."""

from __future__ import annotations

import json
import mmap
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

from evenpull.evidence.canonical import canonical
from evenpull.evidence.checking_facts import check_facts
from evenpull.evidence.checking_second import NOTHING, Second, check_second
from evenpull.evidence.checkpoint import Checkpoint, read_checkpoint
from evenpull.evidence.container import CHUNK, Buffer, Slot, read_container
from evenpull.evidence.layout import (
    CHECKPOINT,
    FACTS,
    FORMS,
    KEY,
    MANIFEST,
    MANIFEST_FORM,
    MARK,
    NEEDED,
    PROOFS,
    RAW,
    README,
    REPORTS,
    SEAL,
    SEAL_FORM,
)
from evenpull.evidence.sign import KeyFileError, PublicKey, read_public_key
from evenpull.evidence.succession import KeyChain

FIRST = (README, SEAL, MANIFEST)


@dataclass(frozen=True)
class Problem:
    """One thing that is not as it was sealed. `start`, `end`: bytes of the bundle file, None when nothing is there."""

    place: str
    what: str
    start: int | None = None
    end: int | None = None

    def __str__(self) -> str:
        where = "" if self.start is None or self.end is None else f" [bytes {self.start} to {self.end - 1}]"
        place = "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in self.place)
        return f"{place}: {self.what}{where}"


@dataclass(frozen=True)
class Verification:
    """What was found. `ok` only when nothing at all differs; `pinned` when the key was given by the one who checks."""

    ok: bool
    problems: tuple[Problem, ...]
    sha256: str
    key: str  # fingerprint of the key in the bundle, "" when it cannot be read
    pinned: bool
    subject: str
    facts: int
    files: int
    log_size: int
    checkpoint_time: str
    second: Second = NOTHING  # what a bundle of the second form carries besides
    checkpoint: Checkpoint | None = None
    chain: KeyChain | None = None  # the keys of the log, the one that sealed the bundle last
    leaves: tuple[bytes, ...] = ()  # digests of all facts of the log, when all of them are in the bundle

    @property
    def sound(self) -> bool:
        """The same as `ok`."""
        return self.ok

    @property
    def lines(self) -> tuple[str, ...]:
        """The finding in plain words, line by line."""
        head = [f"bundle sha256 {self.sha256}", f"sealed by key {self.key or '(cannot be read)'}"]
        if self.problems:
            body = [f"CHANGED: {len(self.problems)} thing{'s' if len(self.problems) > 1 else ''} not as sealed"]
            return (*head, *body, *(f"  {problem}" for problem in self.problems))
        head.append(
            f"nothing was changed: {self.facts} facts of {self.log_size} in the log at {self.checkpoint_time}, "
            f"{self.files} files, about {self.subject}"
        )
        head += self.second.lines
        if self.pinned:
            head.append("the key is the one you gave" + (", or took over from it" if self.second.renewals else ""))
        else:
            head.append(
                "this shows that nothing changed since it was sealed, not who sealed it: compare the key with one you "
                "got from its owner by another way, or give that with --key"
            )
        return tuple(head)


def verify(path: Path, key: str | None = None) -> Verification:
    """Check the bundle at `path`. `key` is the fingerprint (64 hexadecimal characters) the seal must have.

    Raises OSError when the file cannot be read at all, ValueError when `key` is no fingerprint.
    """
    wanted = None if key is None else key.replace(" ", "").replace(":", "").lower()
    if wanted is not None and (len(wanted) != 64 or set(wanted) - set("0123456789abcdef")):
        raise ValueError(f"{key!r} is no fingerprint: it has 64 characters 0-9 a-f")
    with path.open("rb") as stream:
        if path.stat().st_size == 0:
            return _Check(memoryview(b""), wanted).run()
        with mmap.mmap(stream.fileno(), 0, access=mmap.ACCESS_READ) as mapped:
            data = memoryview(mapped)
            try:
                return _Check(data, wanted).run()
            finally:
                data.release()


class _Check:
    """One run over one bundle; collects problems in the order of the reader's interest."""

    def __init__(self, data: Buffer, wanted: str | None) -> None:
        self.data, self.wanted = data, wanted
        self.problems: list[Problem] = []
        self.slots: dict[str, Slot] = {}
        self.order: list[str] = []

    def report(self, place: str, what: str, start: int | None = None, end: int | None = None) -> None:
        self.problems.append(Problem(place, what, start, end))

    def run(self) -> Verification:
        self._members()
        key = self._key()
        manifest = self._manifest(key)
        if manifest is not None:
            self._files(manifest)
        else:
            self._without_manifest()
        checkpoint = self._checkpoint(key, manifest)
        texts, places = (self._content(FACTS), self._content(PROOFS)), (self._start(FACTS), self._start(PROOFS))
        facts = check_facts(*texts, checkpoint, *places, self.report)
        if manifest is not None and manifest.get("facts") != len(facts):
            self.report(FACTS, f"{len(facts)} facts can be read, {manifest.get('facts')} were sealed")
        self._raw()
        second = NOTHING
        if manifest is not None and manifest["form"] == MANIFEST_FORM:
            second = check_second(self._content, manifest, key, checkpoint, facts, self._whole)
        known = second.keys or ((key.fingerprint,) if key else ())
        if self.wanted is not None and known and self.wanted not in known:
            self._whole(KEY, f"sealed by another key than the one you gave, {self.wanted}")
        whole = sha256()
        for place in range(0, len(self.data), CHUNK):
            whole.update(self.data[place : place + CHUNK])
        return Verification(
            ok=not self.problems,
            problems=tuple(self.problems),
            sha256=whole.hexdigest(),
            key=key.fingerprint if key else "",
            pinned=self.wanted is not None,
            subject=str(manifest.get("subject", "")) if manifest else "",
            facts=len(facts),
            files=len(self.order),
            log_size=checkpoint.size if checkpoint else 0,
            checkpoint_time=checkpoint.time if checkpoint else "",
            second=second,
            checkpoint=checkpoint,
            chain=second.chain or (KeyChain(key) if key else None),
            leaves=tuple(bytes.fromhex(digest) for digest, _ in facts.values())
            if checkpoint and list(facts) == list(range(checkpoint.size))
            else (),
        )

    def _members(self) -> None:
        slots, differences = read_container(self.data)
        if not slots:
            self.report("container", "no file of a bundle can be found in it", 0, max(len(self.data), 1))
        for slot in slots:
            if slot.name in self.slots:
                self.report(slot.name, "is in the bundle a second time", slot.start, slot.end)
                continue
            self.slots[slot.name] = slot
            self.order.append(slot.name)
        for d in differences:
            self.report(d.place, d.what, d.start, d.end)

    def _content(self, name: str) -> bytes | None:
        slot = self.slots.get(name)
        return None if slot is None else bytes(self.data[slot.data : slot.end])

    def _start(self, name: str) -> int:
        slot = self.slots.get(name)
        return 0 if slot is None else slot.data

    def _whole(self, name: str, what: str) -> None:
        slot = self.slots.get(name)
        if slot is None:
            self.report(name, "is missing")
        else:
            self.report(name, what, slot.data, slot.end)

    def _key(self) -> PublicKey | None:
        pem = self._content(KEY)
        if pem is None:
            return None  # reported as missing with the other files
        try:
            key = read_public_key(pem)
        except KeyFileError as error:
            self._whole(KEY, str(error))
            return None
        return key

    def _manifest(self, key: PublicKey | None) -> dict[str, Any] | None:
        """The manifest, believed only as far as the seal holds; problems say where it does not."""
        text, seal = self._content(MANIFEST), self._seal(key)
        if text is None:
            self.report(MANIFEST, "is missing: what belongs to the bundle cannot be said")
            return None
        if seal is not None and isinstance(seal.get("manifest"), dict):
            self._compare(self.slots[MANIFEST], seal["manifest"])
        try:
            found = json.loads(text)
            if not isinstance(found, dict) or found["form"] not in FORMS or canonical(found) != text:
                raise ValueError("not as written")
            list(map(_entry, found["files"]))
        except (ValueError, KeyError, TypeError, RecursionError):
            self._whole(MANIFEST, "cannot be read as the manifest of a bundle")
            return None
        if key is not None and found.get("key") != key.fingerprint:
            self._whole(KEY, f"is not the key the manifest names, {found.get('key')}")
        return found

    def _seal(self, key: PublicKey | None) -> dict[str, Any] | None:
        text = self._content(SEAL)
        if text is None:
            self.report(SEAL, "is missing: nothing shows who sealed the bundle")
            return None
        try:
            seal = json.loads(text)
            unsigned = {name: value for name, value in seal.items() if name != "signature"}
            signature = bytes.fromhex(seal["signature"])
            known = canonical(seal) == text and seal["form"] == SEAL_FORM and signature.hex() == seal["signature"]
            message = canonical(unsigned)
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
            known = False
        if not known:
            self._whole(SEAL, "cannot be read as a seal")
            return None
        if key is None:
            self._whole(SEAL, "cannot be checked without the key")
        elif seal.get("key") != key.fingerprint:
            self._whole(SEAL, f"names another key than {KEY}: {seal.get('key')}")
        elif not key.signed(signature, message):
            self._whole(SEAL, "the signature does not fit: the seal was changed")
        return dict(seal)

    def _files(self, manifest: dict[str, Any]) -> None:
        """Missing, added, re-ordered and changed files."""
        listed = [_entry(entry) for entry in manifest["files"]]
        names = [name for name, _ in listed]
        for name, entry in listed:
            slot = self.slots.get(name)
            if slot is None:
                self.report(name, "is missing")
            else:
                self._compare(slot, entry)
        known = {*names, *FIRST}
        for name in self.order:
            if name not in known:
                slot = self.slots[name]
                self.report(name, "was added: the manifest does not name it", slot.start, slot.end)
        wanted = [name for name in (*FIRST, *(n for n in names if n != README)) if name in self.slots]
        present = [name for name in self.order if name in known]
        if wanted != present:
            first = next((b for a, b in zip(wanted, present, strict=False) if a != b), present[-1])
            slot = self.slots[first]
            self.report(first, "stands at another place than where it was sealed", slot.start, slot.end)

    def _without_manifest(self) -> None:
        """Which files were sealed cannot be said then; those that no bundle has can."""
        for name in self.order:
            if name not in (*FIRST, *NEEDED) and not name.startswith((RAW, REPORTS)):
                slot = self.slots[name]
                self.report(name, "no file of a bundle has this name", slot.start, slot.end)

    def _compare(self, slot: Slot, entry: dict[str, Any]) -> None:
        """Content against size and hash; where it differs, the blocks in which it does."""
        content, size = self.data[slot.data : slot.end], slot.end - slot.data
        whole = sha256()
        for place in range(0, size, CHUNK):
            whole.update(content[place : place + CHUNK])
        if whole.hexdigest() == entry.get("sha256") and size == entry.get("size"):
            return
        length = "" if size == entry.get("size") else f"; {size} bytes instead of {entry.get('size')}"
        start, end = _changed_region(content, entry)
        self.report(slot.name, f"was changed{length}", slot.data + start, slot.data + end)

    def _checkpoint(self, key: PublicKey | None, manifest: dict[str, Any] | None) -> Checkpoint | None:
        text = self._content(CHECKPOINT)
        if text is None:
            return None
        try:
            found = read_checkpoint(text)
        except ValueError as error:
            self._whole(CHECKPOINT, str(error))
            return None
        if key is not None and not found.signed_by(key):
            self._whole(CHECKPOINT, "the signature does not fit")
        if manifest is not None and manifest.get("log") != {"size": found.size, "root": found.root}:
            self._whole(CHECKPOINT, "is not the state of the log that was sealed")
        return found

    def _raw(self) -> None:
        """Raw files are named by their content."""
        facts = self._content(FACTS) or b""
        for name in self.order:
            if not name.startswith(RAW):
                continue
            slot, running = self.slots[name], sha256()
            for place in range(slot.data, slot.end, CHUNK):
                running.update(self.data[place : min(place + CHUNK, slot.end)])
            if RAW + running.hexdigest() != name:
                self._whole(name, "its content is not the one it is named after")
            if name.removeprefix(RAW).encode("latin-1") not in facts:
                self._whole(name, "no fact names this file")


def _entry(entry: Any) -> tuple[str, dict[str, Any]]:
    if not isinstance(entry, dict) or not isinstance(entry["name"], str):
        raise TypeError("no entry of a manifest")
    return entry["name"], entry


def _changed_region(content: Buffer, entry: dict[str, Any]) -> tuple[int, int]:
    """From the first to the last block whose mark differs; to the end when the length differs."""
    block, marks, size = entry.get("block"), entry.get("marks"), len(content)
    if not isinstance(block, int) or block < 1 or not isinstance(marks, str):
        return 0, size
    wanted = [marks[i : i + MARK] for i in range(0, len(marks), MARK)]
    found = [sha256(content[i : i + block]).hexdigest()[:MARK] for i in range(0, size, block)]
    changed = [i for i, (a, b) in enumerate(zip(found, wanted, strict=False)) if a != b]
    if len(found) != len(wanted) or size != entry.get("size"):
        first = changed[0] if changed else min(len(found), len(wanted))
        return min(first * block, size), size
    if not changed:
        return 0, size
    return changed[0] * block, min((changed[-1] + 1) * block, size)
