"""The commands of paper: a scan read, keyed by two, its card looked at."""

from __future__ import annotations

import json
from pathlib import Path

from evenpull.store import services
from evenpull.store.models import Fact
from evenpull.store.services import paper_scans
from tests.cli.calling import call
from tests.paper import trip
from tests.store.samples import AUTHOR, JOINT, furnish
from tests.store.test_paper import AIM, ANNA, BELA, said


def test_from_the_scan_to_the_records(dossier: Path, tmp_path: Path) -> None:
    furnish()
    serial, pages, pdf = trip.issued(JOINT, AUTHOR)
    scan, answers = tmp_path / "a.png", tmp_path / "answers.json"
    number = trip.pass_pages(pages)[0]
    scan.write_bytes(trip.scanned([trip.filled(pdf, pages[number - 1], AIM)], "PNG"))
    sha = call("paper", "scan", scan, "--by", ANNA).stdout.split("(")[1].split(")")[0]
    assert "nobody" in call("paper", "pages").stdout
    page = paper_scans.kept_page(sha, 1).page
    names = [line.split()[0] for line in call("paper", "boxes", sha, "1").stdout.splitlines()]
    assert names == [box.name for box in page.to_key]
    call("paper", "crop", sha, "1", "got.1.1", tmp_path / "crop.png")
    assert (tmp_path / "crop.png").read_bytes().startswith(b"\x89PNG")
    answers.write_text("{}")
    assert "nothing was keyed" in call("paper", "key", sha, "1", answers, "--by", ANNA, code=2).stderr
    answers.write_text('{"got.1.1": "45"}')
    assert "[state, text]" in call("paper", "key", sha, "1", answers, "--by", ANNA, code=2).stderr
    answers.write_text(json.dumps(said(page, AIM)))
    call("paper", "key", sha, "1", answers, "--by", ANNA)
    assert "another person" in call("paper", "key", sha, "1", answers, "--by", ANNA, code=2).stderr
    assert "8 records written" in call("paper", "key", sha, "1", answers, "--by", BELA).stdout
    assert "8 only on paper" in " ".join(call("paper", "card", serial).stdout.split())
    assert "one person" in call("paper", "cost", serial).stdout
    assert len(services.joint(JOINT).tightenings) == 8


def test_a_page_is_set_aside_and_what_one_keyed_is_hidden(dossier: Path, tmp_path: Path) -> None:
    furnish()
    serial, pages, pdf = trip.issued(JOINT, AUTHOR)
    picture = trip.filled(pdf, pages[trip.pass_pages(pages)[0] - 1], AIM)
    shas = []
    for name, form in (("a.png", "PNG"), ("b.pdf", "PDF")):
        (tmp_path / name).write_bytes(trip.scanned([picture], form))
        shas.append(call("paper", "scan", tmp_path / name, "--by", ANNA).stdout.split("(")[1].split(")")[0])
    answers = tmp_path / "answers.json"
    page = paper_scans.kept_page(shas[1], 1).page
    answers.write_text(json.dumps(said(page, AIM) | {"got.1.1": ["written", "987.6"]}))
    call("paper", "key", shas[1], "1", answers, "--by", ANNA)
    seq = Fact.objects.get(kind="page keyed").seq
    for words in (("audit", "fact", str(seq)), ("audit", "fact", str(seq), "--json"), ("audit", "changes", "--json"),
                  ("audit", "person", ANNA), ("paper", "pages"), ("paper", "card", serial)):  # fmt: skip
        assert "987.6" not in call(*words).stdout, words
    assert "hidden until a second person" in call("audit", "fact", str(seq)).stdout
    assert "no other scan" not in call("paper", "aside", shas[1], "1", "--by", AUTHOR, "--why", "cut off").stdout
    assert "nothing is to be set aside" in call(
        "paper", "aside", shas[1], "1", "--by", AUTHOR, "--why", "cut off", code=2).stderr.replace("\n", " ")
    listed = call("paper", "pages").stdout
    assert f"set aside by {AUTHOR}" in listed and "another scan counts" not in listed
    assert "set aside by" in call("paper", "card", serial).stdout
