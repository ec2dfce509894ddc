"""The commands of reviews: what a person does from the finding to the signed review."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.calling import call
from tests.store.review_story import TOOL, tell

FOUND = ("review", "found", TOOL, "out of tolerance", "--words", "reads high at all points", "--at", "2026-09-01 15:00",
         "--certificate", "KNC-26-0900", "--operator", "0 %")  # fmt: skip
BY = ("--by", "Ines Harrowgate")


@pytest.fixture
def story(dossier: Path) -> Path:
    tell()
    return dossier


def test_from_the_finding_to_the_signature(story: Path, tmp_path: Path) -> None:
    looked = call(*FOUND).stdout
    assert "14 tightenings rest on it" in looked and "8 surely out" in looked and "Nothing was written" in looked
    assert "91.7 % of what was indicated" in looked and "hot or under pressure" in looked
    assert call("review", "list").stdout == ""
    assert "Review 1 is open" in call(*FOUND, "--open", *BY).stdout
    pdf, csv, xlsx = (tmp_path / f"r.{end}" for end in ("pdf", "csv", "xlsx"))
    shown = call("review", "show", "1", "--pdf", pdf, "--csv", csv, "--xlsx", xlsx).stdout
    assert "KN-CW-008 (class B, open): in 0, doubtful 0, not judged 0, out 8; no disposition yet" in shown
    assert pdf.read_bytes()[:5] == b"%PDF-" and csv.read_text().count("\n") == 15 and xlsx.read_bytes()[:2] == b"PK"
    call("review", "decide", "1", "re-tighten", "--worst", "surely out", "--reason", "by its own file", *BY)
    call("review", "decide", "1", "engineering review", "--joint", "KN-XX-1", "--reason", "test rig, scrapped", *BY)
    refused = call("review", "close", "1", "--statement", "all was looked at", *BY, code=2)
    assert "cause is not said" in refused.output
    for what in ("cause", "action", "same type", "notices"):
        call("review", "say", "1", what, f"words on {what}", *BY)
    assert "closed by Ines Harrowgate" in call("review", "close", "1", "--statement", "all was looked at", *BY).stdout
    assert call("review", "list").stdout.strip().endswith("2 of 2 joints decided; closed")


@pytest.mark.parametrize(("more", "says"), [
    (("--at", "some day"), "is no time"), (("--certificate", "X-1"), "has no certificate 'X-1'"),
    (("--operator", "twice"), "is no share"), (("--set", "100 N.m"), "both of set and shown"),
    (("--stated", "13"), "both are needed"),
])
def test_what_is_refused_says_why(story: Path, more: tuple[str, ...], says: str) -> None:
    assert says in " ".join(call(*FOUND, *more, code=2).output.split())


def test_a_shift_check_and_a_ratio_are_given_as_measured(story: Path) -> None:
    check = ("review", "found", TOOL, "shift check failed", "--words", "gave 37.8 at 41.2", "--at", "2026-08-01",
             "--set", "41.2 N.m", "--gave", "37.8 N.m")  # fmt: skip
    assert "8 surely out" in " ".join(call(*check).stdout.split())
    wrong = ("review", "found", "TM-0051", "attachment wrong", "--words", "the wrong one was fitted", "--at",
             "2026-08-01", "--stated", "13.2", "--true", "12.54")  # fmt: skip
    assert "0 tightenings rest on it" in call(*wrong).stdout
