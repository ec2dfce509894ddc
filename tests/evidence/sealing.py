"""Changing a bundle as its own key holder could: other content, manifest and seal made to fit."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path

from evenpull.evidence import canonical
from evenpull.evidence.bundle import _described
from evenpull.evidence.container import Member, write_container
from evenpull.evidence.sign import SecretKey


def sealed_anew(path: Path, members: Mapping[str, bytes], key: SecretKey, changes: Mapping[str, bytes | None]) -> None:
    """Write `members` with `changes` (None: left out) to `path`, list and seal them again.

    `contents.txt` is made to fit too, unless it is itself among the changes.
    """
    kept = {name: data for name, data in (dict(members) | dict(changes)).items() if data is not None}
    manifest = json.loads(members["manifest.json"])
    names = [entry["name"] for entry in manifest["files"] if entry["name"] in kept]
    names += [name for name in kept if name not in names and name not in ("seal.json", "manifest.json")]
    described = {name: _described(Member(name, kept[name])) for name in names}
    if "contents.txt" in kept and "contents.txt" not in changes:
        old = {entry["name"]: entry for entry in manifest["files"]}
        text = kept["contents.txt"].decode()
        for name, entry in described.items():
            if name in old:
                text = text.replace(f"{old[name]['sha256']}  {name}\n", f"{entry['sha256']}  {name}\n")
        for name in old:
            if name not in described:
                text = text.replace(f"{old[name]['sha256']}  {name}\n", "")
        kept["contents.txt"] = text.encode()
        described["contents.txt"] = _described(Member("contents.txt", kept["contents.txt"]))
    manifest["files"] = [described[name] for name in names]
    kept["manifest.json"] = canonical(manifest)
    seal = json.loads(members["seal.json"]) | {"manifest": _described(Member("manifest.json", kept["manifest.json"]))}
    seal["signature"] = key.sign(canonical({n: v for n, v in seal.items() if n != "signature"})).hex()
    kept["seal.json"] = canonical(seal)
    order = [n for n in ("README.txt", "seal.json", "manifest.json") if n in kept]
    order += [name for name in names if name not in order]
    write_container(path, [Member(name, kept[name]) for name in order])
