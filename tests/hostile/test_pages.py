"""What a hostile hand sends to the pages: refused with the reason, nothing written, no page that breaks."""

from __future__ import annotations

import io
import re
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connections
from django.test import Client

from evenpull.demo import scenario
from evenpull.intake import MAX_BYTES
from evenpull.store import services
from tests.store import samples

SCRIPT = "<script>alert(1)</script>"
PULL = samples.file_of([samples.row(1)])


def text_of(response: Any) -> str:
    return str(response.content.decode())


def upload(client: Client, data: bytes, name: str = "pulls.csv", mapping: str = samples.MAPPING) -> Any:
    return client.post("/intake/preview/", {"file": SimpleUploadedFile(name, data), "mapping": mapping})


def sha_of(response: Any) -> str:
    found = re.search(r'name="sha256" value="([0-9a-f]{64})"', text_of(response))
    assert found is not None
    return found[1]


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (b"", "Choose a file first|the file is empty"),
        (b"%PDF-1.7\n1 0 obj", "a PDF document, whatever its name says"),
        (PULL.decode().encode("utf-16"), "byte order mark of UTF-16"),
        (PULL.decode().encode("utf-16-le"), "UTF-16 without a byte order mark"),
        (PULL.replace(b"Mwangale", b"M\xfcller"), "line 2.*is not utf-8"),
        (PULL.replace(b";Unit;", b";Tag;"), "columns found"),
    ],
)
def test_a_file_that_cannot_be_taken_in_says_why(unharmed: Path, person: Client, data: bytes, reason: str) -> None:
    response = upload(person, data)
    assert response.status_code in (302, 422)
    assert re.search(reason, text_of(person.get("/intake/") if response.status_code == 302 else response))
    waiting = unharmed / "incoming"
    assert not waiting.exists() or not list(waiting.iterdir()), "a refused file does not wait for a commit"


def test_names_and_cells_are_never_markup(furnished: Path, person: Client) -> None:
    person.post("/who/", {"name": f"Bo {SCRIPT}", "next": "/log/"})
    data = samples.file_of([
        samples.row(1, joint=f"{SCRIPT}/x y"), samples.row(2, joint="KN/../x"),
        samples.row(3, tool="<img src=x onerror=alert(1)>"),
    ])  # fmt: skip
    seen = upload(person, data, name=f'a"b{SCRIPT.replace("/", "")}.csv')
    assert "is not known" in text_of(seen)
    done = person.post("/intake/commit/", {"sha256": sha_of(seen), "name": f"x{SCRIPT}", "mapping": samples.MAPPING})
    assert done.status_code == 302
    for address in (done["location"], "/intake/", "/log/", "/", "/joints/KN-CW-008/"):
        page = person.get(address)
        assert page.status_code == 200, address
        assert SCRIPT not in text_of(page) and "<img src=x" not in text_of(page)


@pytest.mark.parametrize("name", ["", "B", "x" * 81, "Bob\u200bX", "Bob\x00X", "Bob\u202eX"])
def test_a_name_that_proves_nothing_is_refused(unharmed: Path, stranger: Client, name: str) -> None:
    page = stranger.post("/who/", {"name": name})
    assert page.status_code == 200 and "A name has 2 to 80 characters" in text_of(page)


@pytest.mark.parametrize("hours", ["0", "-1", "745", "1e3", "9" * 5000, ""])
def test_hours_of_a_card_have_a_limit(unharmed: Path, person: Client, hours: str) -> None:
    person.post("/joints/KN-CW-008/cards/", {"hours": hours})
    assert "is not a whole number from 1 to 744" in text_of(person.get("/joints/KN-CW-008/"))


def test_ids_that_differ_only_in_capitals(unharmed: Path, person: Client) -> None:
    text = scenario.joint_text("kn-cw-008").replace("KN-CW-008", "kn-cw-008")
    page = person.post("/new-joint/", {"way": "text", "text": text, "do": "save"})
    assert page.status_code == 422
    assert "only in capitals" in text_of(page) and "Strainer drain flange" in text_of(page), "what was typed stays"


@pytest.mark.parametrize("index", ["1000000", "99999999999", "9" * 400])
def test_a_part_far_out_does_not_hang_the_form(unharmed: Path, person: Client, index: str) -> None:
    page = person.post("/new-joint/", {f"f:clamped.{index}.part": "flange", "do": "check"})
    assert page.status_code == 422 and len(page.content) < 2_000_000


@pytest.mark.parametrize("text", ["a=" + "[" * 5000, "a = " + "9" * 6000, "#" * 200_000, "a.b" * 900, "\0"])
def test_texts_that_are_no_joint(unharmed: Path, person: Client, text: str) -> None:
    page = person.post("/new-joint/", {"way": "text", "text": text, "do": "save"})
    assert page.status_code == 422 and "Nothing was written" in text_of(page)


def test_forms_from_elsewhere_and_strange_hosts(unharmed: Path) -> None:
    strict = Client(HTTP_HOST="localhost", enforce_csrf_checks=True, raise_request_exception=False)
    page = strict.post("/who/", {"name": "Ines Harrowgate"})
    assert page.status_code == 403 and "did not come from a page of this browser" in text_of(page)
    page = strict.get("/", headers={"host": "evil.example"})
    assert page.status_code == 400 and "EVENPULL_HOSTS" in text_of(page)


@pytest.mark.parametrize("end", ["cards", "dispositions", "release"])
def test_acts_are_no_links(unharmed: Path, person: Client, end: str) -> None:
    assert person.get(f"/joints/KN-CW-008/{end}/").status_code == 405


@pytest.mark.parametrize(
    "address",
    [
        "/cards/..%2f..%2fsigning-key.pem", "/cards/%2e%2e.pdf", "/cards/%00.pdf", "/files/../raw",
        "/files/..%2f..%2fsigning-key.pem/raw", f"/files/{'0' * 64}/raw", f"/files/{'z' * 5000}/", "/joints/%00/",
        "/static/..%2f..%2fsettings.py", "/joints/KN-CW-008/report.pdf?release=%00",
    ],
)  # fmt: skip
def test_nothing_outside_the_records_is_served(unharmed: Path, stranger: Client, address: str) -> None:
    page = stranger.get(address)
    assert page.status_code == 404 and "Not here" in text_of(page)
    assert b"PRIVATE KEY" not in page.content and "Resolver404" not in text_of(page)


def test_forms_beyond_the_limits(unharmed: Path, person: Client) -> None:
    big = person.post("/joints/KN-CW-008/release/", {"statement": "x" * 5_100_000})
    assert big.status_code == 302 or "holds more than 5 MB" in text_of(big)
    coded = "statement=" + "x" * 5_100_000
    kind = "application/x-www-form-urlencoded"
    big = person.post("/joints/KN-CW-008/release/", coded, content_type=kind)
    assert big.status_code == 413 and "holds more than 5 MB" in text_of(big)
    many = person.post("/new-joint/", "&".join(f"a{n}=1" for n in range(6000)), content_type=kind)
    assert many.status_code == 413 and "too many fields" in text_of(many)


def test_a_body_beyond_the_largest_file_is_refused_by_its_stated_size(unharmed: Path, person: Client) -> None:
    stated = {"CONTENT_LENGTH": str(MAX_BYTES + 2_000_000), "wsgi.input": io.BytesIO(b"x")}
    page = person.post("/intake/preview/", b"x", content_type="multipart/form-data; boundary=x", **stated)
    assert page.status_code == 413
    assert "268 MB" in text_of(page) and "split the file" in text_of(page)


def test_two_people_commit_the_same_preview_at_once(furnished: Path, person: Client) -> None:
    sha256 = sha_of(upload(person, samples.many(40)))
    path = furnished / "incoming" / sha256

    def commit(name: str) -> bool:
        try:
            return bool(services.commit_file("pulls.csv", path, samples.MAPPING, name).already)
        finally:
            connections.close_all()

    before = services.log_status().size
    with ThreadPoolExecutor(2) as people:
        already = list(people.map(commit, ["Ines Harrowgate", "Petra Achterberg"]))
    assert sorted(already) == [False, True]
    assert services.log_status().size == before + 41 and services.check_log() == []


def test_a_preview_is_still_good_after_the_joint_changed(furnished: Path, person: Client) -> None:
    sha256 = sha_of(upload(person, PULL))
    text = scenario.joint_text("kn-cw-008").replace('torque = "150 N.m"', 'torque = "140 N.m"')
    services.add_joint(text, "kn-cw-008.toml", "Ines Harrowgate")
    values = {"sha256": sha256, "name": "pulls.csv", "mapping": samples.MAPPING}
    done = person.post("/intake/commit/", values)
    assert done.status_code == 302 and done["location"] == f"/files/{sha256}/"
    assert services.joint("KN-CW-008").plan.target.torque == 140, "judged by the revision in force"
    again = person.post("/intake/commit/", values, follow=True)
    assert "no longer waiting" in text_of(again)


def test_a_commit_under_a_forged_name(unharmed: Path, person: Client) -> None:
    values = {"sha256": sha_of(upload(person, PULL)), "mapping": samples.MAPPING}
    for name in ("", "z" * 100_000):
        page = person.post("/intake/commit/", values | {"name": name}, follow=True)
        assert "it may have 1 to 255" in text_of(page)
    page = person.post("/intake/commit/", values | {"sha256": "../signing-key.pem", "name": "x"}, follow=True)
    assert "no longer waiting" in text_of(page)
