"""Curves to look at: the odd ones on top, a ring at a glance, over time, two compared; services and pages."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from django.test import Client

from evenpull.curve.keyed import read_some
from evenpull.store import services
from evenpull.store.models import Fact
from evenpull.store.services import curves_course, curves_judging, curves_kept, curves_looking
from evenpull.store.services import curves_rejudging as rejudging
from evenpull.store.services.curves_table import table_of
from evenpull.store.services.errors import Unknown
from tests.store.curve_files import NAME, STEEL_JOINT, csv_of, simulated
from tests.store.samples import AUTHOR
from tests.store.test_curves import furnished, take

FAULTS = ["none", "re-hit", "none", "slip", "none", "none"]


def page(address: str, status: int = 200) -> str:
    answer = Client(HTTP_HOST="127.0.0.1").get(address)
    assert answer.status_code == status, answer.content.decode()[-600:]
    return answer.content.decode()


def test_the_odd_ones_lie_on_top_and_are_counted(anywhere: Path) -> None:
    furnished()
    row = take(csv_of(simulated(FAULTS, coarse=1), range(1, 7)))
    found = curves_looking.overlay([STEEL_JOINT])
    assert (found.n_all, found.n_odd) == (6, 2) and len(found.rest) == 4
    assert [(line.number, line.verdict) for line in found.odd] == [(1, "re-hit"), (3, "slip or stripping")]
    assert found.counts == (("re-hit", 1), ("slip or stripping", 1))
    assert found.window == (pytest.approx(36.1), pytest.approx(39.9))
    kept = {n: curves for n, _, _, curves in read_some(curves_kept.parquet_of(row), range(6))}
    for line in (*found.odd, *found.rest):  # the drawing has the top of the curve, and no point that was not recorded
        assert line.torque.max() == kept[line.number].torque.max()
        assert np.isin(line.torque, kept[line.number].torque.astype(np.float64)).all()
    only = curves_looking.overlay([STEEL_JOINT], fastener=4)
    assert (only.n_all, [line.number for line in only.odd]) == (1, [3])
    assert curves_looking.overlay([STEEL_JOINT], pass_number=2).n_all == 0
    text = page(f"/joints/{STEEL_JOINT}/curves/")
    pale, red = text.rindex('stroke="#9a8f7d"'), text.index(f'href="/curves/{row.seq}/1/"')
    assert pale < red and 'role="group"' in text  # what is drawn later lies on top
    assert "1. re-hit" in text and "4 of 4 without a finding" in text


def test_many_are_drawn_in_part_and_it_is_said_of_how_many(anywhere: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(curves_looking, "REST_DRAWN", 10)
    monkeypatch.setattr(curves_looking, "ODD_DRAWN", 2)
    furnished()
    take(csv_of(simulated(["none"] * 20 + ["re-hit"] * 5, coarse=1), range(1, 26)))
    first = curves_looking.overlay([STEEL_JOINT])
    assert (len(first.odd), first.n_odd, len(first.rest), first.n_all) == (2, 5, 10, 25)
    pages = [curves_looking.overlay([STEEL_JOINT], page=n).odd for n in range(3)]
    assert sorted(line.number for one in pages for line in one) == [20, 21, 22, 23, 24]
    numbers = [line.number for line in first.rest]
    assert numbers[0] == 0 and numbers[-1] == 19  # spread over all of them


def test_each_fastener_shows_its_last_curve(anywhere: Path) -> None:
    furnished()
    take(csv_of(simulated(["none"] * 8, coarse=1), range(1, 9)))
    later = take(csv_of(simulated(["re-hit", "none"], seed=8, coarse=1), [11, 12]), name="later.csv")
    found = curves_looking.ring(STEEL_JOINT)
    assert [line.fastener for line in found.lines] == list(range(1, 9)) and found.fasteners == 8
    assert (found.lines[0].file, found.lines[0].number, found.lines[0].verdict) == (later.seq, 0, "re-hit")
    text = page(f"/joints/{STEEL_JOINT}/curves/ring/")
    assert text.count('<li class="odd">') == 1 and "8 of 8 fasteners" in text
    assert [line.fastener for line in curves_looking.ring(STEEL_JOINT, first=6).lines] == [7, 8]


def test_over_time_many_are_shown_by_their_middle_and_spread(anywhere: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    furnished()
    take(csv_of(simulated(["none"] * 29 + ["re-hit"], coarse=1), range(1, 31)))
    each = curves_course.course(STEEL_JOINT, "T_off")
    table = table_of([STEEL_JOINT])
    assert each.single and each.n == 30 and each.middle.tolist() == table.values["T_off"].tolist()
    assert not each.by_time and each.limits == (pytest.approx(36.1), pytest.approx(39.9))
    assert [(number, verdict) for _, _, _, number, verdict in each.odd] == [(29, "re-hit")] and each.window is None
    monkeypatch.setattr(curves_course, "SINGLE", 10)
    monkeypatch.setattr(curves_course, "SHARES", 3)
    shares = curves_course.course(STEEL_JOINT, "T_off")
    thirds = np.split(table.values["T_off"], 3)
    assert not shares.single and shares.middle.tolist() == [np.median(one) for one in thirds]
    assert shares.high.tolist() == [np.percentile(one, 95) for one in thirds]
    assert "150 equal shares" in page(f"/joints/{STEEL_JOINT}/curves/over-time/")
    with pytest.raises(Unknown, match="not drawn over time"):
        curves_course.course(STEEL_JOINT, "n_bad")
    page(f"/joints/{STEEL_JOINT}/curves/over-time/?feature=nonsense", 404)


def test_one_curve_shows_numbers_limits_and_picture_of_its_verdict(anywhere: Path) -> None:
    furnished()
    row = take(csv_of(simulated(FAULTS, coarse=1), range(1, 7)))
    found = curves_looking.one(row.seq, 3)
    assert next(reason.verdict for reason in found.mechanics) == "slip or stripping" and found.learned is None
    assert found.record is None and found.original[0] == len(found.curves.torque)
    text = page(f"/curves/{row.seq}/3/")
    for words in ("Slip or stripping", "off_ratio", "limit <span", "Do not tighten on", found.original[1],
                  "None were in force", "shut-off", "theta_high"):
        assert words in text, words
    assert curves_judging.head_of(curves_judging.judged(row)).rules in text
    closer = page(f"/curves/{row.seq}/3/?from=10&to=12.5")
    assert 'data-x0="10.0"' in closer and 'data-x1="12.5"' in closer
    for bad, status in ((f"{row.seq}/6/", 404), ("999999/0/", 404), (f"{row.seq}/3/?from=x", 404),
                        (f"{row.seq}/3/?from=5&to=5", 404)):  # fmt: skip
        page(f"/curves/{bad}", status)


def test_two_are_compared_feature_by_feature(anywhere: Path) -> None:
    furnished()
    row = take(csv_of(simulated(FAULTS, coarse=1), range(1, 7)))
    text = page(f"/curves/compare/?first={row.seq}:0&second={row.seq}:1")
    assert re.search(r"first: [^<]+</text>", text) and "What is unlike" in text
    assert "n_late" not in text.split("What is unlike")[1]  # 0 in both
    assert "What is unlike" not in page("/curves/compare/?first=7&second=")
    page(f"/curves/compare/?first={row.seq}:0&second={row.seq}:99", 404)


def test_files_are_taken_in_withdrawn_and_judged_again_on_the_page(anywhere: Path) -> None:
    from django.core.files.uploadedfile import SimpleUploadedFile

    furnished()
    client = Client(HTTP_HOST="127.0.0.1")
    session = client.session
    session["author"] = AUTHOR
    session.save()

    def send(data: bytes, joint: str = STEEL_JOINT) -> tuple[int, str]:
        given = {"file": SimpleUploadedFile("traces.csv", data), "joint": joint, "mapping": NAME}
        answer = client.post("/curves/take/", given, follow=True)
        return answer.status_code, answer.content.decode()

    before = Fact.objects.count()
    for data, joint, status, words in (
        (b"Trace;nothing\n1;2\n", STEEL_JOINT, 422, "Nothing was written"),
        (csv_of(simulated(FAULTS, coarse=1), range(1, 7)), "KN-XX-999", 422, "KN-XX-999"),
    ):
        code, text = send(data, joint)
        assert (code, words in text) == (status, True)
    assert Fact.objects.count() == before
    code, text = send(csv_of(simulated(FAULTS, coarse=1), range(1, 7)))
    assert code == 200 and f"6 curves of {STEEL_JOINT} taken in" in text
    assert "nothing was written" in send(csv_of(simulated(FAULTS, coarse=1), range(1, 7)))[1]
    answer = client.post("/curves/again/", follow=True)
    (report,) = rejudging.reports()
    assert answer.redirect_chain[-1][0] == f"/curves/changed/{report.seq}/" and "0</strong> curves changed" in (
        answer.content.decode())
    assert b"".join(client.get(f"/curves/changed/{report.seq}/changes.csv").streaming_content).count(b"\n") == 1
    few = client.post("/curves/learn/", {"name": "w", "joints": STEEL_JOINT, "pass": "1", "why": "all went well"})
    assert few.status_code == 422 and "25" in few.content.decode()
    (row,) = curves_kept.files()
    client.post(f"/curves/{row.seq}/withdraw/", {"why": "taken for the wrong joint"})
    assert curves_kept.files() == [] and "withdrawn" in page("/curves/")
    assert "No curve here" in page(f"/joints/{STEEL_JOINT}/curves/")


def test_nobody_writes_without_a_name(anywhere: Path) -> None:
    furnished()
    client = Client(HTTP_HOST="127.0.0.1")
    for address in ("/curves/take/", "/curves/learn/", "/curves/again/", "/curves/1/withdraw/"):
        assert client.post(address).status_code == 302, address
    assert not services.joint(STEEL_JOINT).proof.open_flags or not curves_kept.files()


def test_a_sheet_to_learn_from_gives_nothing_away_and_writes_nothing(anywhere: Path) -> None:
    from evenpull.exercise.traces import sheet

    services.prepare()
    client, before = Client(HTTP_HOST="127.0.0.1"), Fact.objects.count()
    asked = page("/exercises/curves/41/")
    assert asked.count("<select") == 12 and "Seen by" not in asked and "elastic origin" not in asked
    said = {f"curve-{one.number}": one.truth for one in sheet(41).traces}
    answer = client.post("/exercises/curves/41/", said | {"curve-1": "bottomed"}).content.decode()
    assert "11 of 12 right" in answer and answer.count("✓ Right") == 11 and "You said bottomed" in answer
    assert Fact.objects.count() == before
    for bad in ("/exercises/curves/1000000/", "/exercises/curves/1/?curves=99", "/exercises/curves/1/?curves=x"):
        page(bad, 404)
    assert client.get("/exercises/curves/").status_code == 302
