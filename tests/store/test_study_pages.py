"""The pages of studies: planned, written, run on the page and from a card, shown with what they say; drift; samples."""

from __future__ import annotations

import html
import re
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from evenpull.store import services
from evenpull.store.models import Fact
from evenpull.study import drawn_order
from evenpull.study.model import KINDS
from tests.store.people import HEADERS, PASSWORD, fast_hashing, logged_in, opened
from tests.store.samples import AUTHOR, JOINT, MAPPING, file_of, furnish, row
from tests.study.files import PLAIN, ROWS, changed, with_rows

__all__ = ["fast_hashing"]
ID, SCRIPT = "T-ST-1", "<script>alert(1)</script>"
KEEPER = "V. Sunde-Farrow"


def text_of(answer: Any) -> str:
    return html.unescape(str(answer.content.decode()))


@pytest.fixture
def person(dossier: Path) -> Client:
    client = Client(**HEADERS)
    client.post("/who/", {"name": KEEPER})
    return client


@pytest.fixture
def planned(person: Client) -> Client:
    services.add_study(PLAIN, "t.toml", AUTHOR)
    return person


def typed_form(rows: str = ROWS, seen: int = 1) -> dict[str, str]:
    """Form fields as somebody types the readings of a text beside the numbers of the drawn order."""
    study = services.study(ID).result.study
    values = {tuple(line.split(";")[:3]): line.split(";")[3] for line in rows.splitlines()[1:]}
    fields = {f"v:{n}": values.get((who, part, str(no)), "") for n, (who, part, no) in enumerate(drawn_order(study), 1)}
    return fields | {"seen": str(seen)}


# writing -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_begins_with_a_template_that_can_be_written(person: Client, kind: str) -> None:
    page = person.get("/new-study/", {"kind": kind})
    text = html.unescape(re.search(r'name="text"[^>]*>(.*?)</textarea>', page.content.decode(), re.S)[1])  # type: ignore[index]
    checked = person.post("/new-study/", {"text": text, "do": "check"})
    assert checked.status_code == 200 and "readings to be taken" in text_of(checked) and not Fact.objects.exists()
    assert person.post("/new-study/", {"text": text, "do": "save"})["Location"] == "/studies/NEW-STUDY/"
    assert services.study("NEW-STUDY").row.author == KEEPER


def test_faults_stand_above_what_was_typed_and_nothing_is_written(person: Client) -> None:
    text = changed(PLAIN, ("replicates = 2", "replicates = 1"))
    page = person.post("/new-study/", {"text": text, "do": "save"})
    assert page.status_code == 422 and "study.toml:21: design.replicates" in text_of(page) and text in text_of(page)
    page = person.post("/new-study/", {"text": PLAIN, "readings": ROWS.replace("150.8", "x"), "do": "save"})
    assert page.status_code == 422 and "readings.csv:2: value" in text_of(page)
    assert not Fact.objects.exists()


def test_a_study_and_its_readings_as_files(person: Client) -> None:
    files = {"file": SimpleUploadedFile("w.toml", PLAIN.encode()), "text": "", "readings": "", "do": "save",
             "readings_file": SimpleUploadedFile("r.csv", ROWS.encode())}  # fmt: skip
    assert person.post("/new-study/", files).status_code == 302
    view = services.study(ID)
    assert (view.row.file, view.row.readings_file, view.result.state) == ("w.toml", "r.csv", "judged")
    page = text_of(person.get(f"/studies/{ID}/change/"))
    assert PLAIN in page and ROWS in page
    other = changed(PLAIN, ('id = "T-ST-1"', 'id = "T-ST-9"'))
    assert "keeps its id" in text_of(person.post(f"/studies/{ID}/change/", {"text": other, "do": "save"}))
    again = person.post(f"/studies/{ID}/change/", {"text": PLAIN, "readings": ROWS, "do": "save"}, follow=True)
    assert "nothing was written" in text_of(again) and len(services.study(ID).revisions) == 1


def test_texts_are_never_markup(person: Client) -> None:
    text = changed(PLAIN, ('name = "Long wrench on the check device"', f'name = "a {SCRIPT}"'),
                   ('"J. Mwangale"', f'"{SCRIPT}"'))  # fmt: skip
    rows = changed(ROWS, ("J. Mwangale", SCRIPT), ("value\n", "value;remark\n"), ("150.8\n", f"150.8;{SCRIPT}\n"))
    services.add_study(text, f"x{SCRIPT}", AUTHOR, readings=(rows, SCRIPT))
    for path in (f"/studies/{ID}/", "/studies/", f"/studies/{ID}/run/", f"/studies/{ID}/change/",
                 f"/audit/find/?what=person&name={SCRIPT}"):  # fmt: skip
        page = person.get(path)
        assert page.status_code == 200 and SCRIPT not in page.content.decode(), path


# running -------------------------------------------------------------------------------------------------------------


def test_a_study_is_run_on_the_page(planned: Client) -> None:
    page = text_of(planned.get(f"/studies/{ID}/run/"))
    places = re.findall(r"Reading (\d+): ([^\"]+) no\. (\d+)", page)
    assert [int(n) for n, *_ in places] == list(range(1, 9))
    order = drawn_order(services.study(ID).result.study)
    assert [f"{who} {part}" for who, part, _ in order] == [what for _, what, _ in places]
    assert "does not see the display" in page and "no pipe on the handle" in page  # how, and the caution
    done = planned.post(f"/studies/{ID}/run/", typed_form(), follow=True)
    assert done.redirect_chain[-1][0] == f"/studies/{ID}/" and "Measuring scatters with s" in text_of(done)
    assert services.study(ID).row.author == KEEPER


def test_part_of_it_now_and_the_rest_later(planned: Client) -> None:
    first = typed_form("\n".join(ROWS.splitlines()[:4]))
    done = planned.post(f"/studies/{ID}/run/", first, follow=True)
    assert done.redirect_chain[-1][0] == f"/studies/{ID}/run/" and "5 of 8 readings are missing" in text_of(done)
    assert "is there: 150.8" in text_of(done)
    planned.post(f"/studies/{ID}/run/", typed_form(seen=2))
    assert services.study(ID).result.state == "judged"
    again = planned.post(f"/studies/{ID}/run/", typed_form(seen=3), follow=True)
    assert "nothing was typed that is not there already" in text_of(again) and len(services.study(ID).revisions) == 3


def test_one_person_alone(planned: Client) -> None:
    page = text_of(planned.get(f"/studies/{ID}/run/", {"person": "R. Fjeldgaard"}))
    assert "J. Mwangale 1" not in page and page.count('name="v:') == 4
    assert planned.get(f"/studies/{ID}/run/", {"person": "A. Lund"}).status_code == 404


def test_faults_stand_beside_their_reading_and_two_who_type_at_once_do_not_overwrite(planned: Client) -> None:
    form = typed_form() | {"v:2": "15x", "v:5": "1e3"}
    page = planned.post(f"/studies/{ID}/run/", form)
    assert page.status_code == 422 and "2 readings to put right" in text_of(page) and 'value="15x"' in text_of(page)
    assert text_of(page).count("is not a number") == 2 and len(services.study(ID).revisions) == 1
    services.type_readings(ID, {1: services.Typed("5")}, AUTHOR, seen=1)
    page = planned.post(f"/studies/{ID}/run/", typed_form())
    assert page.status_code == 422 and f"the last by {AUTHOR}" in text_of(page)
    assert 'name="seen" value="1"' in text_of(page), "it stays refused until the page is opened anew"


def test_a_correction_needs_its_reason(planned: Client) -> None:
    planned.post(f"/studies/{ID}/run/", typed_form())
    form = typed_form(seen=2) | {"v:1": "111.1"}
    page = planned.post(f"/studies/{ID}/run/", form)
    assert page.status_code == 422 and "say in the remark why" in text_of(page)
    planned.post(f"/studies/{ID}/run/", form | {"r:1": "digits swapped"})
    page = text_of(planned.get(f"/studies/{ID}/"))
    assert "left out: corrected: digits swapped" in page and "corrected from" in page


@pytest.mark.parametrize("bad", ["", "x", "-1", "9" * 9])
def test_a_form_without_its_revision_writes_nothing(planned: Client, bad: str) -> None:
    page = planned.post(f"/studies/{ID}/run/", typed_form() | {"seen": bad})
    assert page.status_code == 422 and len(services.study(ID).revisions) == 1


def test_odd_fields_write_nothing(planned: Client) -> None:
    form = {"v:": "1", "v:-1": "1", "v:x": "1", "v:99999999": "1", "v:٣": "1", "v:0": "5", "v:9": "5", "seen": "1"}
    page = planned.post(f"/studies/{ID}/run/", form)
    assert page.status_code == 422 and len(services.study(ID).revisions) == 1


def test_readings_of_its_own_file_are_not_typed_here(person: Client) -> None:
    services.add_study(with_rows(PLAIN, "\n".join(ROWS.splitlines()[:3]) + "\n"), "t.toml", AUTHOR)
    assert "stand in its own file" in text_of(person.get(f"/studies/{ID}/run/"))


# cards ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_a_card_is_printed_and_typed_back_by_its_serial(planned: Client, paper: str) -> None:
    planned.post(f"/studies/{ID}/cards/", {"paper": paper, "person": ""})
    (card,) = services.cards_of_study(ID)
    pdf = planned.get(f"/study-cards/{card.serial}.pdf")
    assert pdf.content.startswith(b"%PDF") and pdf["Content-Type"] == "application/pdf"
    found = planned.get("/study-cards/", {"serial": card.serial.lower()})
    assert found["Location"] == f"/studies/{ID}/run/?card={card.serial}"
    done = planned.post(found["Location"], typed_form(), follow=True)
    assert f"from card {card.serial}" in text_of(done) and services.study(ID).row.card == card.serial


def test_a_card_of_one_person_leads_to_these_readings(planned: Client) -> None:
    planned.post(f"/studies/{ID}/cards/", {"paper": "a4", "person": "R. Fjeldgaard"})
    (card,) = services.cards_of_study(ID)
    page = text_of(planned.get("/study-cards/", {"serial": card.serial}, follow=True))
    assert page.count('name="v:') == 4 and "R. Fjeldgaard" in page
    wrong = planned.get("/study-cards/", {"serial": card.serial[:-1] + "0"}, follow=True)
    assert "check digits do not fit" in text_of(wrong) or "no card" in text_of(wrong)
    for bad, says in (({"paper": "a3"}, "no paper"), ({"paper": "a4", "person": "A. Lund"}, "is not a person")):
        assert says in text_of(planned.post(f"/studies/{ID}/cards/", bad, follow=True))
    assert len(services.cards_of_study(ID)) == 1


def test_addresses_that_are_none(planned: Client) -> None:
    for path in (
        "/studies/T-ST-9/", f"/studies/{ID}/?revision=9", f"/studies/{ID}/?revision=x",
        "/study-cards/T-ST-1-0000-00.pdf", "/study-planning/?kind=x", "/drift/", "/drift/?tool=TW-9",
    ):  # fmt: skip
        assert planned.get(path).status_code == 404, path
    assert planned.get(f"/studies/{ID}/cards/").status_code == 405


# who may -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("role", "may"), [("tightening lead", True), ("tool keeper", True), ("operator", False),
                                           ("checker", False), ("auditor", False), ("administrator", False)])
def test_who_may_write_a_study_and_its_readings(dossier: Path, role: str, may: bool) -> None:
    services.add_study(PLAIN, "t.toml", AUTHOR)
    client = logged_in(opened(role))
    assert client.get(f"/studies/{ID}/").status_code == 200
    other = changed(PLAIN, ('revision = "A"', 'revision = "B"'))
    for path, form in ((f"/studies/{ID}/cards/", {"paper": "a4"}), (f"/studies/{ID}/run/", typed_form()),
                       (f"/studies/{ID}/change/", {"text": other, "do": "save"})):
        before = Fact.objects.count()
        answer = client.post(path, form | {"password": PASSWORD})
        assert answer.status_code == (302 if may else 403), (role, path)
        assert (Fact.objects.count() > before) == may


# found from elsewhere ------------------------------------------------------------------------------------------------


def test_a_tool_and_a_person_show_their_studies_with_what_they_count_for(planned: Client) -> None:
    planned.post(f"/studies/{ID}/run/", typed_form())
    for what, name in (("tool", "TW-0219"), ("tool", "CD-0003"), ("person", "R. Fjeldgaard")):
        page = text_of(planned.get("/audit/find/", {"what": what, "name": name}))
        assert f"/studies/{ID}/" in page and "no validity is stated" in page, name
    assert "R. Fjeldgaard: off by " in page


def test_drift_of_a_tool_from_its_own_page(person: Client) -> None:
    for day in range(1, 13):
        services.add_entry("shift check", "TW-0219", {
            "set": "200 N.m", "device_value": f"{200 + (-1) ** day * 0.6 + 0.01 * day} N.m", "device": "CD-3",
            "result": "within limits"}, KEEPER, at=datetime(2026, 3, day, 6, tzinfo=UTC), reason="from the book")
    assert "/drift/?tool=TW-0219" in text_of(person.get("/audit/find/", {"what": "tool", "name": "TW-0219"}))
    page = person.get("/drift/", {"tool": "TW-0219", "baseline": "6"})
    assert page.status_code == 200 and "<svg" in text_of(page) and "12 checks" in text_of(page)
    assert "no calibrations were given" in text_of(page)
    asked = {"tool": "TW-0219", "limit": "4", "uncertainty": "0,8",
             "certificates": "2022-02-01; 0.1\n2023-02-03; 0.6\n\n2024-02-03; 1.2; 0.1\n2025-02-03;0.5"}
    assert "Next calibration after 367 days" in text_of(person.get("/drift/", asked))
    for field, value, says in (("certificates", "x; y", "line 1: 'x; y' is not"), ("since", "x", "write it as"),
                               ("limit", "x", "is not a number"), ("baseline", "2", "4 or more"),
                               ("baseline", "6.5", "not a whole number")):
        bad = person.get("/drift/", {"tool": "TW-0219", field: value})
        assert bad.status_code == 422 and says in text_of(bad), field
    over = text_of(person.get("/audit/drift/"))
    assert "TW-0219" in over and "12" in over


def test_checks_of_some_fasteners_stand_with_what_they_miss(person: Client) -> None:
    furnish()
    data = file_of([row(n, bolt=n) for n in range(1, 9)])
    services.commit_file("p.csv", data, MAPPING, AUTHOR)
    services.add_entry("checked", JOINT, {"seen": "two marks", "result": "in order"}, "P. Quell", fasteners=(2, 5))
    page = text_of(person.get(f"/joints/{JOINT}/"))
    said = "2 of 8 checked, none found bad: a share of 12.5 % bad (1 of 8) would have been missed with probability 75 %"
    assert said in page and "drawn at random" in page
    assert said in text_of(person.get("/audit/inspections/"))
    from evenpull.proof.model import Proof
    from evenpull.report import stated

    view = services.joint(JOINT)
    assert isinstance(view.proof, Proof)
    section = stated.section(view.plan, view.proof, view.around, view.tightenings)
    assert said in section["samples"][0].replace("\u200b", "")
    assert "One joint of 1, drawn and found good" in text_of(person.get("/audit/"))


# computing -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["repeatability", "capability", "exercise"])
def test_planning_pages_answer_and_refuse_in_words(person: Client, kind: str) -> None:
    page = person.get("/study-planning/", {"kind": kind})
    assert page.status_code == 200 and "What to expect" in text_of(page)
    for name in re.findall(r'id="f-(\w+)"', text_of(page)):
        for value in ("x", "-1", "0", "1e9", "9" * 15, "2.5", ""):
            answer = person.get("/study-planning/", {"kind": kind, name: value})
            assert answer.status_code in (200, 422), (name, value)
            if answer.status_code == 422:
                assert "No plan:" in text_of(answer) or 'class="error"' in text_of(answer)


def test_the_sampling_page_answers_and_refuses_in_words(person: Client) -> None:
    assert "(5 of 100) would have been missed with probability 58 %" in text_of(person.get("/sampling/"))
    assert "none bad among 59 pieces" in text_of(person.get("/sampling/", {"share": "5"}))
    assert "at most 25.9 % is bad" in text_of(person.get("/sampling/", {"checked": "10"}))
    for form in ({"lot": "5", "checked": "6"}, {"lot": "x"}, {"found": "1"}, {"share": "0"}, {"share": "100"},
                 {"checked": "3", "confidence": "100"}, {"lot": "9" * 15, "checked": "1"}):  # fmt: skip
        assert person.get("/sampling/", form).status_code == 422, form
