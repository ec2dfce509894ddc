"""The readable copy of a manifest, which lies first in the carrier; the reader makes it again and compares."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from evenpull.evidence.plain import shown

HEAD = (
    "Work carried between dossiers. Nothing in this file runs: it holds tables, texts, pictures and printed cards.\n"
    "Take it in with: evenpull carry in FILE --key FINGERPRINT --by NAME\n"
    "Compare the fingerprint below with the one that the sender gave you on another way (paper, telephone).\n"
)


def contents_text(manifest: Mapping[str, Any]) -> bytes:
    lines = [HEAD]
    for label, name in (("subject", "subject"), ("made by", "by"), ("made at", "made_at"), ("key", "key")):
        lines.append(f"{label}: {shown(manifest[name])}")
    lines.append("")
    for part in manifest["parts"]:
        said = f", read with the mapping {shown(part['mapping'])}" if part["mapping"] else ""
        said += f", of the joint {shown(part['joint'])}" if "joint" in part else ""
        lines.append(f"{part['kind']}: {part['name']}, {part['size']} bytes{said}")
        lines.append(f"  {part['sha256']}")
    return ("\n".join(lines) + "\n").encode()
