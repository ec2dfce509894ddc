"""Signatures: the password given again, its meaning in sight, and who may not sign the own work."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from evenpull.demo import scenario
from evenpull.store import access, services
from evenpull.store.models import Fact
from evenpull.store.services import accounts
from tests.store.people import ADMINISTRATOR, PASSWORD, fast_hashing, logged_in, opened
from tests.store.samples import AUTHOR, JOINT, furnish
from tests.store.test_dossier import WORDS, hall

__all__ = ["fast_hashing", "hall"]  # fixtures
HOUSING = "KN-BH-021"
NO_ACCOUNTS = "the name as given; no accounts"
AT_THE_MACHINE = "the name as given by a command on the machine itself"
BY_PASSWORD = "the own password, given again"


def in_class_a() -> str:
    """The bearing housing as a joint of class A; one of those who tightened it."""
    text = scenario.joint_text("kn-bh-021")
    newer = text.replace(f'class = "{services.joint(HOUSING).spec.joint_class}"', 'class = "A"', 1)
    services.add_joint(newer, "a.toml", AUTHOR)
    view = services.joint(HOUSING)
    assert view.spec.joint_class == "A" and view.decision.signable, view.decision.reasons
    return view.tightenings[0].operator


def test_a_decision_needs_the_password_again_and_says_so(dossier: Path) -> None:
    furnish()
    client = logged_in(opened("tightening lead"))
    flag = services.joint(JOINT).proof.open_flags[0]
    form = {"flag": flag.key, "action": "engineering review", "reason": "seen at the joint"}
    page = client.get(f"/joints/{JOINT}/").content.decode()
    assert access.SIGNATURE_MEANING["decide"] in page
    for wrong in ({"password": "wrong"}, {"password": ""}, {}):
        refused = client.post(f"/joints/{JOINT}/dispositions/", form | wrong)
        assert refused.status_code == 403 and "nothing was signed" in refused.content.decode()
    assert not Fact.objects.filter(kind="disposition").exists()
    client.post(f"/joints/{JOINT}/dispositions/", form | {"password": PASSWORD})
    fact = Fact.objects.get(kind="disposition")
    assert fact.author == "Person tightening lead" and fact.data["identity"] == BY_PASSWORD
    assert PASSWORD not in fact.body


def test_a_check_needs_the_password_again_and_an_entry_on_the_work_does_not(dossier: Path) -> None:
    furnish()
    client = logged_in(opened("checker"))
    path = f"/joints/{JOINT}/entry/"
    assert access.SIGNATURE_MEANING["check"] in client.get(f"{path}?kind=checked").content.decode()
    assert 'type="password"' not in client.get(f"{path}?kind=loosened").content.decode()
    form = {"kind": "checked", "basis": "did it", "unsure": "0"}
    assert client.post(path, form).status_code == 403
    assert client.post(path, form | {"password": PASSWORD}).status_code == 422  # signed, but its fields are missing
    assert not Fact.objects.filter(kind="entry").exists()


def test_a_release_says_how_its_signer_is_known(hall: Path) -> None:
    assert services.sign_release(HOUSING, AUTHOR, WORDS).identity == NO_ACCOUNTS


def test_a_release_by_a_command_says_so_where_there_are_accounts(hall: Path) -> None:
    client = logged_in(opened("tightening lead"))
    assert services.sign_release(HOUSING, AUTHOR, WORDS).identity == AT_THE_MACHINE
    assert AT_THE_MACHINE in client.get(f"/joints/{HOUSING}/").content.decode()


def test_a_release_on_the_page_is_signed_by_the_password(hall: Path) -> None:
    client = logged_in(opened("tightening lead"))
    assert access.SIGNATURE_MEANING["sign"] in client.get(f"/joints/{HOUSING}/").content.decode()
    form = {"statement": WORDS, "seen": services.joint(HOUSING).proof_digest}
    assert client.post(f"/joints/{HOUSING}/release/", form | {"password": "wrong"}).status_code == 403
    assert services.joint(HOUSING).releases == ()
    assert client.post(f"/joints/{HOUSING}/release/", form | {"password": PASSWORD}).status_code == 302
    row = services.joint(HOUSING).releases[-1]
    assert (row.author, row.identity) == ("Person tightening lead", BY_PASSWORD)
    report = PdfReader(BytesIO(services.release_pdf(HOUSING, row.id)))
    assert BY_PASSWORD in " ".join(" ".join(page.extract_text().split()) for page in report.pages)
    assert PASSWORD not in "".join(Fact.objects.values_list("body", flat=True))


def test_who_tightened_a_joint_of_class_a_does_not_sign_it(hall: Path) -> None:
    operator = in_class_a()
    accounts.add_account("root.admin", ADMINISTRATOR, "administrator", PASSWORD, ADMINISTRATOR)
    accounts.add_account("the.operator", f" {operator.upper()} ", "tightening lead", PASSWORD, ADMINISTRATOR)
    size = Fact.objects.count()
    with pytest.raises(services.Refused, match="another person has to sign"):
        services.sign_release(HOUSING, operator.upper(), WORDS)
    client = logged_in("the.operator")
    form = {"statement": WORDS, "seen": services.joint(HOUSING).proof_digest, "password": PASSWORD}
    answer = client.post(f"/joints/{HOUSING}/release/", form, follow=True)
    assert "another person has to sign" in answer.content.decode()
    assert Fact.objects.count() == size
    assert services.sign_release(HOUSING, "T. Abernethy-Voss", WORDS).author == "T. Abernethy-Voss"


def test_a_release_outlives_the_key_that_signed_it_and_a_forged_one_is_found(hall: Path, tmp_path: Path) -> None:
    from evenpull.evidence import verify
    from evenpull.store.services import log

    services.sign_release(HOUSING, AUTHOR, WORDS)
    services.renew_key(AUTHOR)
    assert services.check_log() == []
    found = verify(services.export_bundle(HOUSING, tmp_path / "b.zip"))
    assert found.ok and found.second.releases == 1
    body = Fact.objects.get(kind="release").data
    body["signed"]["state"] = "released with follow-up"
    with log.writing():  # by somebody with the key and the database
        log.append([log.New("release", "release:forged", body, HOUSING)], AUTHOR)
    (problem,) = services.check_log()
    assert "(release)" in problem
    assert not verify(services.export_bundle(HOUSING, tmp_path / "c.zip")).ok


def test_a_release_says_how_long_it_is_kept_and_what_is_held(hall: Path) -> None:
    text = scenario.joint_text("kn-bh-021")
    more = '\n[keeping]\nretention = "life of the plant"\nyears = 10\n'
    services.add_joint(text.replace('revision = "A"', 'revision = "B"', 1) + more, "kept.toml", AUTHOR)
    services.add_entry("hold", HOUSING, {"matter": "inquiry 12"}, AUTHOR, reason="asked for by the owner")
    row = services.sign_release(HOUSING, AUTHOR, WORDS)
    for pdf in (services.release_pdf(HOUSING, row.id), services.release_pdf(HOUSING)):
        words = " ".join(" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(pdf)).pages)
        assert f"keep at least until {row.signed_at.year + 10}" in words and "inquiry 12" in words


def test_without_accounts_one_person_may_do_all(hall: Path) -> None:
    assert services.sign_release(HOUSING, in_class_a(), WORDS).identity == NO_ACCOUNTS
