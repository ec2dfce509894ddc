"""A card, equipment and certificates carried to another dossier: listed there, with where they come from, once."""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as settings_of
from hypothesis import strategies as st

from evenpull.card.serial import make_serial
from evenpull.carrier import Part, carrier_bytes, read_carrier
from evenpull.evidence.canonical import canonical
from evenpull.evidence.sign import SecretKey, generate
from evenpull.store import services
from evenpull.store.models import Fact
from evenpull.store.services import (
    audit,
    card_register,
    carried_cards,
    kept_tools,
    paper_cards,
    paper_keying,
    paper_scans,
)
from evenpull.store.services.errors import Refused
from evenpull.store.services.fact_kinds import CARD, CERTIFICATE, EQUIPMENT
from tests.equipment.files import CERTIFICATES
from tests.equipment.files import EQUIPMENT as REGISTER
from tests.paper import trip
from tests.store.samples import AUTHOR, JOINT, furnish
from tests.store.test_paper import AIM, ANNA, BELA, said
from tests.store.two import another

TAKER = "Odile Farrant"


def made_elsewhere(tmp_path: Path, settings: Any, act: Callable[[], bytes]) -> tuple[bytes, str]:
    """What `act` gives in another dossier, with the fingerprint of its key."""
    with another(tmp_path / "pump hall", settings):
        furnish()
        return act(), services.log_status().key_id


def one_card() -> bytes:
    row, _ = services.issue_card(JOINT, "a4", AUTHOR)
    return services.carry_out("to gallery 3", AUTHOR, joints=[JOINT], cards=[row.serial], tools=True)


def test_a_carried_card_is_in_the_register_and_comes_back_on_paper(
    anywhere: Path, tmp_path: Path, settings: Any
) -> None:
    scans: list[bytes] = []

    def act() -> bytes:
        serial, pages, pdf = trip.issued(JOINT, AUTHOR)
        scans.append(trip.scanned([trip.filled(pdf, pages[trip.pass_pages(pages)[0] - 1], AIM, without=(3,))]))
        return services.carry_out("to gallery 3", AUTHOR, joints=[JOINT], cards=[serial], tools=True)

    data, key = made_elsewhere(tmp_path, settings, act)
    row = services.carry_in(data, TAKER, key)
    assert {part.kind: part.standing for part in row.parts} == dict.fromkeys(
        ("tools", "joint", "card", "card issued"), "new")  # fmt: skip
    size = Fact.objects.count()
    assert not services.carry_in(data, TAKER, key).written and Fact.objects.count() == size
    fact = Fact.objects.get(kind=CARD)
    assert fact.author == TAKER and fact.data["carried"] == {
        "by": AUTHOR, "dossier": key, "carrier": row.sha256, "sealed_by": key}  # fmt: skip
    (standing,) = card_register.of_joint(JOINT)
    assert (standing.state, standing.card.by, standing.card.dossier) == ("out", AUTHOR, key)
    assert card_register.page().issued == 1 and services.joint(JOINT).cards[0].author == AUTHOR
    assert f"issued by {AUTHOR} in the dossier of the key {key[:16]}" in audit.what_of(fact)
    # It is read and keyed here as where it was issued.
    scan = paper_scans.take_scan("back.pdf", scans[0], TAKER).sha256
    page = paper_scans.kept_page(scan, 1).page
    for who in (ANNA, BELA):
        paper_keying.key_page(scan, 1, said(page, AIM), who)
    assert paper_keying.write_records(standing.card.serial, BELA) == (7, ())
    assert paper_cards.card_view(standing.card.serial).rows[0].written == 7
    # The next card issued here bears another serial, though both dossiers count alike.
    own, _ = services.issue_card(JOINT, "a4", AUTHOR)
    assert own.serial != standing.card.serial and card_register.page().issued == 2
    # And on it goes: it is told where it was issued first.
    on = read_carrier(services.carry_out("on", TAKER, cards=[standing.card.serial])).parts
    told = json.loads(next(part.data for part in on if part.kind == "card issued"))
    assert (told["by"], told["dossier"]) == (AUTHOR, key) and "carried" not in told["card"]


def test_at_home_the_card_is_known(anywhere: Path) -> None:
    furnish()
    data = one_card()
    size = Fact.objects.count()
    row = services.carry_in(data, TAKER)
    assert {part.standing for part in row.parts} == {"known"}
    assert Fact.objects.count() == size + 1  # that it came; no second card
    assert card_register.page().issued == 1


def sealed(parts: list[Part], key: SecretKey, of: bytes) -> bytes:
    whole = read_carrier(of)
    return carrier_bytes(parts, subject=whole.subject, by=whole.by, at=whole.made_at, key=key)


def test_what_does_not_fit_the_register_is_refused(anywhere: Path, tmp_path: Path, settings: Any) -> None:
    data, _ = made_elsewhere(tmp_path, settings, one_card)
    parts, key = list(read_carrier(data).parts), generate()
    place = next(n for n, part in enumerate(parts) if part.kind == "card issued")
    whole = json.loads(parts[place].data)
    without = {kind: [p for p in parts if p.kind != kind] for kind in ("joint", "card")}
    cases = [(without["joint"], "carry the joint too"), (without["card"], "its PDF is not in the carrier")]
    for change, words in (
        ({"joint": "KN-CW-014"}, "of another joint"),
        ({"by": ""}, "no statement of the form"),
        ({"dossier": "x" * 64}, "no statement of the form"),
        ({"card": whole["card"] | {"serial": whole["card"]["serial"][:-1] + "x"}}, "not a valid card serial"),
        ({"card": whole["card"] | {"places": whole["card"]["places"][1:]}}, "no statement of the form"),
        ({"card": whole["card"] | {"places": [["x"]] * whole["card"]["pages"]}}, "ask the sender"),
        ({"card": whole["card"] | {"valid_until": "soon"}}, "ask the sender"),
    ):
        changed = replace(parts[place], data=canonical(whole | change))
        cases.append(([*parts[:place], changed, *parts[place + 1 :]], words))
    loose = replace(parts[place], data=json.dumps(whole, indent=1).encode())
    cases.append(([*parts[:place], loose, *parts[place + 1 :]], "no statement of the form"))
    for some, words in cases:
        with pytest.raises(Refused, match=words):
            services.carry_in(sealed(some, key, data), TAKER, key.public.fingerprint)
        assert Fact.objects.count() == 0
    furnish()
    services.issue_card(JOINT, "us-letter", AUTHOR)  # the same count here and there: the same serial
    before = Fact.objects.count()
    with pytest.raises(Refused, match="another card of the serial"):
        services.carry_in(sealed(parts, key, data), TAKER, key.public.fingerprint)
    assert Fact.objects.count() == before


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(st.text(max_size=5), inner, max_size=2),
)


@settings_of(max_examples=150, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_any_bytes_are_a_statement_or_refused(drawn: st.DataObject) -> None:
    """The reader of outside bytes raises its own error only."""
    body: dict[str, Any] = dict.fromkeys(carried_cards._TEXTS, "x") | {
        "payload": "x", "pages": 1, "places": [["x"]], "tools": [], "lines": 1, "specification": "0" * 64,
        "pdf_sha256": "0" * 64, "serial": make_serial(JOINT, 7)}  # fmt: skip
    whole: dict[str, Any] = {"form": carried_cards.FORM, "joint": JOINT, "by": AUTHOR, "dossier": "0" * 64}
    whole["card"] = body
    where = drawn.draw(st.sampled_from([whole, body]))
    where[drawn.draw(st.sampled_from(sorted(where)))] = drawn.draw(VALUES)
    data = drawn.draw(st.just(_bytes(whole)) | st.binary(max_size=50) | st.builds(_bytes, VALUES))
    with suppress(Refused):
        carried_cards.read_issued(Part("card issued", "x.json", data))


def _bytes(value: Any) -> bytes:
    try:
        return canonical(value)
    except ValueError:
        return json.dumps(value).encode()


def test_equipment_and_certificates_travel_once(anywhere: Path, tmp_path: Path, settings: Any) -> None:
    def act() -> bytes:
        services.add_equipment(REGISTER, "equipment.toml", AUTHOR)
        services.add_certificates(CERTIFICATES, "certificates.toml", AUTHOR, confirmed=True)
        services.withdraw_certificate("TW-0301", "KNC-26-0412", "the laboratory took it back", AUTHOR)
        return services.carry_out("tools of the pump hall", AUTHOR, equipment=True)

    data, key = made_elsewhere(tmp_path, settings, act)
    kinds = [part.kind for part in read_carrier(data).parts]
    assert kinds == ["equipment", "certificate"]  # the withdrawn one stays behind
    furnish()
    row = services.carry_in(data, TAKER, key)
    assert [part.standing for part in row.parts] == ["new", "new"]
    held = kept_tools.kept().held
    assert [c.number for found in held.calibrations.values() for c in found if c.certificate.points] == ["KNC-26-0413"]
    size = Fact.objects.count()
    assert not services.carry_in(data, TAKER, key).written and Fact.objects.count() == size
    (fact,) = Fact.objects.filter(kind=CERTIFICATE)
    services.withdraw_certificate(fact.data["serial"], "KNC-26-0413", "the laboratory took it back", AUTHOR)
    with another(tmp_path / "pump hall", settings):
        later = services.carry_out("once more", AUTHOR, equipment=True)
    assert {part.standing for part in services.carry_in(later, TAKER, key).parts} == {"known"}
    assert Fact.objects.filter(kind=CERTIFICATE).count() == 1 == Fact.objects.filter(kind=EQUIPMENT).count()


def test_a_certificate_that_says_something_else_is_refused_as_a_whole(
    anywhere: Path, tmp_path: Path, settings: Any
) -> None:
    def act() -> bytes:
        services.add_equipment(REGISTER, "equipment.toml", AUTHOR)
        services.add_certificates(CERTIFICATES, "certificates.toml", AUTHOR, confirmed=True)
        return services.carry_out("tools", AUTHOR, equipment=True, tools=True)

    data, key = made_elsewhere(tmp_path, settings, act)
    services.add_equipment(REGISTER, "equipment.toml", AUTHOR)
    services.add_certificates(CERTIFICATES.replace("2026-03-02", "2026-03-03"), "c.toml", AUTHOR, confirmed=True)
    before = Fact.objects.count()
    with pytest.raises(Refused, match=r"nothing of this carrier was written.*certificate-.*stands there already"):
        services.carry_in(data, TAKER, key)
    assert Fact.objects.count() == before
