"""A bundle for the eye: the facts in plain lines, and a list of contents that `sha256sum -c` reads as well."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from evenpull.evidence.canonical import canonical
from evenpull.evidence.layout import (
    CHECKPOINT,
    CONTENTS,
    EARLIER,
    FACTS,
    FACTS_TEXT,
    KEY,
    KEYS,
    PROOFS,
    RAW,
    README,
    REPORTS,
    VERIFIER,
)

HEAD = (
    f"The facts of this bundle in plain lines, one after the other. They are made from {FACTS}, which is what was\n"
    "digested; the program that checks the bundle makes them again and compares. Times are UTC. A text that could be\n"
    "taken for a number is in quotation marks; \\u and four digits stand for a character that cannot be shown.\n"
)
LABELS = (
    ("kind", "what"), ("joint", "joint"), ("key", "key"), ("author", "who"), ("received_at", "received"),
    ("written_at", "written"),
)  # fmt: skip
BODY, INDENT = "body", "  "
# Controls, line breaks, and marks that change the direction of what is shown.
_HIDDEN = re.compile("[\x00-\x1f\x7f-\x9f\u200e\u200f\u2028\u2029\u202a-\u202e\u2066-\u2069\ufeff]")
_LIKE_A_NUMBER = re.compile(r"[-+0-9.,eE]*|true|false|null|[ \"].*|.* ")

WHAT = {
    README: "what this is and how to check it",
    CONTENTS: "this list",
    FACTS_TEXT: "the facts, to be read",
    VERIFIER: "program that checks the bundle; needs Python and the library cryptography",
    KEY: "public key of the signer",
    KEYS: "statements by which a signing key took over from another",
    CHECKPOINT: "signed state of the log",
    EARLIER: "earlier signed states, each with the proof that the log only grew since",
    FACTS: "the facts, as they were digested",
    PROOFS: "proof of each fact that it is in the log",
}


def shown(value: Any) -> str:
    """One scalar of JSON as it stands in the text."""
    if not isinstance(value, str):
        return canonical(value).decode()
    text = _HIDDEN.sub(lambda found: f"\\u{ord(found[0]):04x}", value)
    return f'"{text}"' if _LIKE_A_NUMBER.fullmatch(value) else text


def nested(value: Any, indent: str) -> Iterator[str]:
    """Lines of an object or a list, its names in the order of their code points."""
    items = sorted(value.items()) if isinstance(value, Mapping) else [(None, item) for item in value]
    for name, item in items:
        head = f"{indent}-" if name is None else f"{indent}{shown(name)}:"
        if not isinstance(item, Mapping | list):
            yield f"{head} {shown(item)}"
        elif not item:
            yield f"{head} (nothing)"
        else:
            yield head
            yield from nested(item, indent + INDENT)


def fact_lines(seq: int, digest: str, fact: Any) -> Iterator[str]:
    """The lines of one fact; what is not an object, or has further names, is written out all the same."""
    yield ""
    yield f"Fact {seq}"
    rest = dict(fact) if isinstance(fact, Mapping) else {BODY: fact}
    for name, label in LABELS:
        if isinstance(rest.get(name), str):
            yield f"{INDENT}{label}: {shown(rest.pop(name))}"
    yield f"{INDENT}digest: {digest}"
    rest.pop("seq", None)
    yield from nested({"content" if name == BODY else name: item for name, item in rest.items()}, INDENT)


def same_facts(text: bytes, facts: Iterable[tuple[int, str, Any]]) -> bool:
    """Whether a `facts.txt` says of these facts what `facts_text` says; the words above the first fact are free."""
    return text.partition(b"\n\n")[2] == facts_text(facts).partition(b"\n\n")[2]


def facts_text(facts: Iterable[tuple[int, str, Any]]) -> bytes:
    """`facts.txt` of (place in the log, digest, fact as plain JSON values)."""
    lines = [line for seq, digest, fact in facts for line in fact_lines(seq, digest, fact)]
    return (HEAD + "\n".join([*lines, ""])).encode("utf-8")


def contents_text(subject: str, files: Sequence[Mapping[str, Any]], called: Mapping[str, str]) -> bytes:
    """`contents.txt` of the entries of the manifest. `called`: name in the bundle -> name under which it was received.

    Lines that begin with # are for people; the others are what `sha256sum -c` reads.
    """
    lines = [f"# Contents of the evidence bundle: {shown(subject)}", "# Unpack it and say: sha256sum -c contents.txt"]
    for entry in files:
        name = entry["name"]
        what = WHAT.get(name) or ("report" if name.startswith(REPORTS) else "file as received")
        if name.startswith(RAW) and name in called:
            what += f", called {shown(called[name])}"
        lines += [f"# {what}; {entry['size']} bytes", f"{entry['sha256']}  {name}"]
    return ("\n".join(lines) + "\n").encode("utf-8")


def sums(text: bytes) -> list[bytes]:
    """The lines of `contents.txt` that carry a hash."""
    return [line for line in text.split(b"\n") if line and not line.startswith(b"#")]


def wanted_sums(files: Iterable[Mapping[str, Any]]) -> list[bytes]:
    """What `sums` must find for the entries of a manifest."""
    return [f"{e.get('sha256')}  {e['name']}".encode() for e in files if e["name"] != CONTENTS]
