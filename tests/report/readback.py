"""Reads a report back: text of each page, attachments, the marks of PDF/A, and what is drawn near the paper's edge."""

from __future__ import annotations

import io
import unicodedata
from functools import lru_cache
from typing import Any, cast
from xml.etree import ElementTree

import typst
from PIL import Image
from pypdf import PdfReader

from evenpull.card.typesetting import FONTS
from evenpull.plan import Plan
from evenpull.proof.model import Decision, Proof
from evenpull.report import ReportContext, release, tables

PDFA = "{http://www.aiim.org/pdfa/ns/id/}"
PDFUA = "{http://www.aiim.org/pdfua/ns/id/}"
MM = 150 / 25.4  # pixels


def flat(text: str) -> str:
    """Text without break places, ligatures and line ends, so that it can be searched."""
    return " ".join(unicodedata.normalize("NFKC", text).replace("\N{ZERO WIDTH SPACE}", "").split())


@lru_cache(maxsize=32)
def pages(pdf: bytes) -> tuple[str, ...]:
    """Text of each page; read once however many lines of a test look into it."""
    return tuple(flat(page.extract_text()) for page in PdfReader(io.BytesIO(pdf)).pages)


def attachments(pdf: bytes) -> dict[str, bytes]:
    return {name: found[0] for name, found in PdfReader(io.BytesIO(pdf)).attachments.items()}


def identification(pdf: bytes) -> dict[str, str]:
    """PDF/A and PDF/UA identification in the XMP metadata."""
    root: Any = PdfReader(io.BytesIO(pdf)).trailer["/Root"]
    tree = ElementTree.fromstring(root["/Metadata"].get_data())
    return {
        key: found.text or ""
        for key, name in (("part", PDFA + "part"), ("conformance", PDFA + "conformance"), ("ua", PDFUA + "part"))
        if (found := tree.find(f".//{name}")) is not None
    }


def content_and_files(
    plan: Plan, proof: Proof, decision: Decision, context: ReportContext
) -> tuple[dict[str, Any], dict[str, str]]:
    attached = {
        "records.csv": tables.records_csv(context.tightenings, proof),
        "records.json": tables.records_json(context.tightenings, context.unread, proof),
        "proof.json": tables.proof_json(proof, decision),
        "specification.toml": plan.spec.text,
    }
    return release.report_content(plan, proof, decision, context, attached), attached


def pictures(plan: Plan, proof: Proof, decision: Decision, context: ReportContext) -> list[Image.Image]:
    """The pages as grey pictures at 150 dots per inch."""
    content, attached = content_and_files(plan, proof, decision, context)
    made: object = typst.compile(
        release.TEMPLATE,
        root=release.TEMPLATE.parent,
        font_paths=[FONTS],
        ignore_system_fonts=True,
        format="png",
        ppi=150.0,
        sys_inputs=release.inputs_of(content, attached),
    )
    sheets = made if isinstance(made, list) else [made]
    return [Image.open(io.BytesIO(cast(bytes, sheet))).convert("L") for sheet in sheets]


def ink_outside(picture: Image.Image, side: float) -> bool:
    """Whether anything is printed within `side` mm of the left or right edge of the paper, or 8 mm of top or bottom."""
    width, height = picture.size
    strip, rim = round(side * MM), round(8 * MM)
    edges = ((0, 0, strip, height), (width - strip, 0, width, height), (0, 0, width, rim),
             (0, height - rim, width, height))  # fmt: skip
    return any(min(picture.crop(edge).tobytes()) < 250 for edge in edges)
