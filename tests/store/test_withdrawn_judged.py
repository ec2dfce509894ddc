"""What rested on a reading that was withdrawn: signatures, decisions, corrections, bundles, papers, pages, roles."""

from __future__ import annotations

import json
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from evenpull.store import access, services
from evenpull.store.models import Fact
from evenpull.store.services import audit
from tests.store.people import HEADERS, PASSWORD, fast_hashing, logged_in, opened
from tests.store.samples import AUTHOR, JOINT, MAPPING, file_of, furnish, row
from tests.store.test_withdrawing import LEAD, OTHER, WHY, other_mapping, sha, sound

__all__ = ["fast_hashing"]


def machine_hall(tmp_path: Path) -> Any:
    """The machine hall of the scenario: one joint ready to sign, one with an open point; its file."""
    from evenpull.demo import scenario
    from evenpull.demo.generate import write_records

    file = next(one for one in write_records(tmp_path / "exports") if "machine-hall" in one.name)
    services.add_tools(scenario.tools_text(), "tools.toml", AUTHOR)
    services.add_mapping(scenario.mapping_text("bench-book"), "bench-book.toml", AUTHOR)
    for name in ("kn-bh-021", "kn-gb-006"):
        services.add_joint(scenario.joint_text(name), f"{name}.toml", AUTHOR)
    services.commit_file(file.name, file.data, BENCH, AUTHOR)
    return file


BENCH = "bench book, nested headings"


def test_a_signature_stays_and_does_not_come_back_with_the_records(anywhere: Path, tmp_path: Path) -> None:
    file = machine_hall(tmp_path)
    signed = services.sign_release("KN-BH-021", AUTHOR, "Tightened, checked and recorded as specified.")
    before = services.joint("KN-BH-021")
    assert before.standing == "released"
    services.withdraw_reading(sha(file.name), WHY, LEAD)
    view = services.joint("KN-BH-021")
    assert view.releases == before.releases and not view.covers(signed) and view.standing == "not released"
    (one,) = view.around.withdrawn
    assert len(one.releases) == 1 and AUTHOR in one.releases[0]
    services.commit_file(file.name, file.data, BENCH, AUTHOR)
    again = services.joint("KN-BH-021")
    assert again.tightenings == before.tightenings and again.decision == before.decision
    assert not again.covers(signed) and again.standing == services.READY
    second = services.sign_release("KN-BH-021", AUTHOR, "Tightened, checked and recorded; read again.")
    assert services.joint("KN-BH-021").standing == "released" and second.id != signed.id
    assert services.release_pdf("KN-BH-021", signed.id) and services.release_pdf("KN-BH-021")
    sound()


def test_a_decision_on_withdrawn_records_does_not_settle_what_comes_again(anywhere: Path, tmp_path: Path) -> None:
    file = machine_hall(tmp_path)
    flag = next(f for f in services.joint("KN-GB-006").proof.flags if f.code == "angle out of window")
    assert flag in services.joint("KN-GB-006").proof.open_flags
    services.dispose("KN-GB-006", flag.key, "accept as is", "the gearbox fitter looked at it", AUTHOR)
    assert flag not in services.joint("KN-GB-006").proof.open_flags
    services.withdraw_reading(sha(file.name), WHY, LEAD)
    services.joint("KN-GB-006")  # a decision that names a record of no joint is no fault then
    services.commit_file(file.name, file.data, BENCH, AUTHOR)
    view = services.joint("KN-GB-006")
    assert flag.key in {f.key for f in view.proof.open_flags}
    (one,) = view.around.withdrawn
    assert [d.reason for d in one.decisions] == ["the gearbox fitter looked at it"]
    note = next(f for f in view.proof.flags if f.code == "reading withdrawn")
    assert "decide again" in note.text
    services.dispose("KN-GB-006", flag.key, "accept as is", "looked at it once more, same nut", AUTHOR)
    assert flag.key not in {f.key for f in services.joint("KN-GB-006").proof.open_flags}
    sound()


def test_decisions_on_other_files_hold(anywhere: Path) -> None:
    furnish()
    services.commit_file("a.csv", file_of([row(1, bolt=1, moment="99,0")]), MAPPING, AUTHOR)
    services.commit_file("b.csv", file_of([row(2, bolt=2, moment="98,0")]), MAPPING, AUTHOR)
    flags = {f.fastener: f for f in services.joint(JOINT).proof.open_flags if f.code == "out of window"}
    for fastener, flag in flags.items():
        services.dispose(JOINT, flag.key, "engineering review", f"the engineer said so of bolt {fastener}", AUTHOR)
    services.withdraw_reading(sha("a.csv"), WHY, LEAD)
    view = services.joint(JOINT)
    assert [d.flag_key for d in view.proof.dispositions] == [flags[2].key]
    assert flags[2].key not in {f.key for f in view.proof.open_flags}
    assert [d.flag_key for d in view.around.withdrawn[0].decisions] == [flags[1].key]


def test_a_correction_holds_only_where_the_old_value_still_stands(anywhere: Path) -> None:
    furnish()
    other_mapping()
    data = file_of([row(1, bolt=2), row(2, bolt=3)])
    services.commit_file("a.csv", data, OTHER, AUTHOR)
    first, second = services.joint(JOINT).tightenings
    for record, field, old, new in ((first, "pass", "2", "3"), (second, "torque", "41,2", "42.1")):
        values = {"record": record.key, "field": field, "old": old, "new": new}
        services.add_entry("correction", JOINT, values, LEAD, basis="from paper", reason="so it stands on the card")
    services.withdraw_reading(sha("a.csv"), WHY, LEAD)
    gone = [f for f in services.joint(JOINT).proof.flags if f.code == "corrected"]
    assert len(gone) == 2 and all("not applied: it names no record of this joint" in f.text for f in gone)
    services.commit_file("a.csv", data, MAPPING, AUTHOR)
    said = [f.text for f in services.joint(JOINT).proof.flags if f.code == "corrected"]
    assert sum("not applied: the record says '1' for pass, not '2'" in text for text in said) == 1
    assert sum("not applied" not in text for text in said) == 1


def test_a_bundle_carries_the_withdrawal_and_is_verified_without_the_program(anywhere: Path, tmp_path: Path) -> None:
    from evenpull.evidence.checking import verify

    furnish()
    data = file_of([row(1), row(2, bolt=2)])
    services.commit_file("a.csv", data, MAPPING, AUTHOR)
    services.commit_file("b.csv", file_of([row(2, bolt=2), row(3, bolt=3)]), MAPPING, AUTHOR)
    services.withdraw_reading(sha("a.csv"), WHY, LEAD)
    for name, joint in (("joint.zip", JOINT), ("all.zip", None)):
        path = services.export_bundle(joint, tmp_path / name)
        assert verify(path).ok
        with zipfile.ZipFile(path) as bundle:
            text = bundle.read("facts.txt").decode()
            lone = tmp_path / "verify_bundle.py"
            lone.write_bytes(bundle.read("verify_bundle.py"))
            facts = [json.loads(line)["fact"] for line in bundle.read("facts.jsonl").splitlines()]
        assert "what: reading withdrawn" in text and WHY in text and "these records and rows no longer count" in text
        (fact,) = [one for one in facts if one["kind"] == "reading withdrawn"]
        first, last = fact["body"]["facts"][0]
        rows = [one for one in facts if first <= one["seq"] <= last]
        assert {one["body"]["file_sha256"] for one in rows} == {sha("a.csv")} and len(rows) == 2
        done = subprocess.run([sys.executable, str(lone), str(path)], capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stdout + done.stderr


def test_an_auditor_still_sees_the_records_marked(anywhere: Path) -> None:
    furnish()
    services.commit_file("a.csv", file_of([row(1), row(2, bolt=2)]), MAPPING, AUTHOR)
    services.commit_file("b.csv", file_of([row(2, bolt=2), row(3, bolt=3)]), MAPPING, AUTHOR)
    services.withdraw_reading(sha("a.csv"), WHY, LEAD)
    for found in (audit.tool("TW-0207"), audit.person("J. Mwangale")):
        assert [(r.counter, r.withdrawn) for r in found.pulls.rows] == [(2, False), (3, False), (2, True), (1, True)]
        assert [(j.pulls, j.withdrawn) for j in found.joints] == [(2, 2)]
    (listed,) = audit.listed("kind", "reading withdrawn").rows
    assert WHY in listed.what and "a.csv" in listed.what and listed.author == LEAD
    said = {r.kind: r.what for r in audit.changes().rows if r.seq <= listed.seq and "withdrawn" in r.what}
    assert set(said) == {"file", "tightening"}
    client = Client(**HEADERS)
    client.post("/who/", {"name": LEAD})
    for page in ("/audit/find/?what=tool&name=TW-0207", "/audit/lists/readings-withdrawn/", f"/joints/{JOINT}/",
                 "/intake/", f"/files/{sha('a.csv')}/"):  # fmt: skip
        assert "ithdrawn" in client.get(page).content.decode(), page


def test_the_page_asks_before_it_withdraws(anywhere: Path) -> None:
    furnish()
    services.commit_file("a.csv", file_of([row(1), row(2, joint="KN-CW-041", bolt=2)]), MAPPING, AUTHOR)
    client = Client(**HEADERS)
    client.post("/who/", {"name": LEAD})
    here = f"/files/{sha('a.csv')}/"
    page = client.get(here).content.decode()
    assert "Withdraw this reading" in page and "KN-CW-008: 1 record<" in page and "KN-CW-041: 1 record<" in page
    seen = str(services.plan_withdrawal(sha("a.csv")).reading)
    size = Fact.objects.count()
    for form in ({"why": WHY, "reading": seen}, {"why": "wrong", "reading": seen, "confirmed": "yes"},
                 {"why": WHY, "reading": "x", "confirmed": "yes"}, {"why": WHY, "reading": "99", "confirmed": "yes"},
                 {}):  # fmt: skip
        answer = client.post(f"{here}withdraw/", form)
        assert answer.status_code == 422 and form.get("why", "") in answer.content.decode(), form
    assert Fact.objects.count() == size
    answer = client.post(f"{here}withdraw/", {"why": WHY, "reading": seen, "confirmed": "yes"}, follow=True)
    page = answer.content.decode()
    assert "This reading was withdrawn" in page and WHY in page and LEAD in page
    assert "Withdraw this reading" not in page
    assert client.post(f"{here}withdraw/", {"why": WHY, "reading": seen, "confirmed": "yes"}).status_code == 422
    assert client.post(f"/files/{'0' * 64}/withdraw/", {"why": WHY, "reading": "1", "confirmed": "yes"}
                       ).status_code == 404  # fmt: skip


@pytest.mark.parametrize("role", access.ROLES)
def test_who_may_withdraw(dossier: Path, role: str) -> None:
    furnish()
    services.commit_file("a.csv", file_of([row(1)]), MAPPING, AUTHOR)
    client = logged_in(opened(role))
    here = f"/files/{sha('a.csv')}/"
    allowed = access.may(role, "withdraw")
    assert allowed == (role == "tightening lead")
    assert ("Withdraw this reading" in client.get(here).content.decode()) == allowed
    form = {"why": WHY, "reading": str(services.plan_withdrawal(sha("a.csv")).reading), "confirmed": "yes"}
    assert client.post(f"{here}withdraw/", form).status_code == 403  # no password: not signed
    answer = client.post(f"{here}withdraw/", form | {"password": PASSWORD})
    assert answer.status_code == (302 if allowed else 403)
    assert (services.file(sha("a.csv")).withdrawn is not None) == allowed
    if allowed:
        said = services.file(sha("a.csv")).withdrawn
        assert said is not None and "password" in said.identity


def test_nobody_takes_back_the_records_of_his_own_work_in_class_a(anywhere: Path) -> None:
    from evenpull.demo import scenario

    furnish()
    text = scenario.joint_text("kn-cw-008")
    services.add_joint(_of_class_a(text), "kn-cw-008.toml", AUTHOR)
    services.commit_file("a.csv", file_of([row(1)]), MAPPING, AUTHOR)
    for name in ("J. Mwangale", "j.  MWANGALE"):
        with pytest.raises(services.Refused, match="another person has to withdraw it"):
            services.withdraw_reading(sha("a.csv"), WHY, name)
    assert services.withdraw_reading(sha("a.csv"), WHY, LEAD).withdrawn is not None


def _of_class_a(text: str) -> str:
    import re

    changed = re.sub(r'^class = "[BC]"', 'class = "A"', text, flags=re.M)
    changed = re.sub(r'^revision = "(.*)"', r'revision = "\1a"', changed, flags=re.M)
    assert changed != text
    return changed


def test_the_command(anywhere: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from evenpull.cli.work import withdraw

    furnish()
    services.commit_file("a.csv", file_of([row(1), row(2, bolt=2)]), MAPPING, AUTHOR)
    services.commit_file("b.csv", file_of([row(2, bolt=2)]), MAPPING, AUTHOR)
    size = Fact.objects.count()
    withdraw("a.csv", LEAD)
    assert "KN-CW-008: 2 records" in capsys.readouterr().out and Fact.objects.count() == size
    with pytest.raises(services.Unknown, match=r"no file 'c\.csv' was taken in"):
        withdraw("c.csv", LEAD, WHY)
    withdraw(sha("a.csv")[:12], LEAD, WHY)
    out = capsys.readouterr().out
    assert f"withdrawn by {LEAD}" in out and "1 of them are taken from other files" in out


def test_records_of_other_joints_that_look_the_same_no_longer_do(anywhere: Path) -> None:
    """A near-duplicate and a copied sheet on another joint fall away with the reading that made them."""
    furnish("kn-cw-008", "kn-cw-014")
    sheet = [row(n, bolt=n, moment=f"4{n},{(n * 7) % 10}") for n in range(1, 9)]
    copied = [row(n, bolt=n, joint="KN-CW-014", memory="B", moment=f"4{n},{(n * 7) % 10}") for n in range(1, 9)]
    services.commit_file("a.csv", file_of(sheet), MAPPING, AUTHOR)
    services.commit_file("b.csv", file_of(copied), MAPPING, AUTHOR)
    services.refresh()

    def codes() -> set[str]:
        return {f.code for f in services.joint(JOINT).proof.flags} & {"values copied", "near-duplicate"}

    assert codes() == {"values copied", "near-duplicate"}
    services.withdraw_reading(sha("b.csv"), WHY, LEAD)
    sound()  # the kept finding of the other joint was made again as well
    assert codes() == set()


@pytest.mark.parametrize("path", ["%00", "x" * 3000, "0" * 64, "%27%20OR%201", "A" * 64])
def test_addresses_of_no_file(anywhere: Path, path: str) -> None:
    client = Client(**HEADERS)
    client.post("/who/", {"name": LEAD})
    assert client.get(f"/files/{path}/").status_code == 404
    form = {"why": WHY, "reading": "1", "confirmed": "yes"}
    assert client.post(f"/files/{path}/withdraw/", form).status_code == 404
