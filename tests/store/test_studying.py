"""Studies are facts: written once, kept with their readings as received, run on cards and pages, and judged again when
they are looked at."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from evenpull.plan import SpecificationError
from evenpull.store import services
from evenpull.store.models import Fact, Mention
from evenpull.store.services import index_check, studying
from evenpull.store.services.study_running import Typed
from evenpull.study import drawn_order
from evenpull.study.drift import Calibration
from evenpull.study.readings import read_rows
from tests.equipment.files import EQUIPMENT as REGISTER
from tests.equipment.files import HYDRAULIC, certificate, point
from tests.store.samples import AUTHOR, JOINT, furnish
from tests.study.files import PLAIN, ROWS, changed, with_rows

ID = "T-ST-1"
KEEPER = "V. Sunde-Farrow"
FORM = 'form = "evenpull certificates 1"\n'
VALID = '\n[validity]\nfrom = 2026-01-10\nends_with = ["tool dropped", "another person"]\n'


@pytest.fixture
def planned(anywhere: Path) -> Path:
    services.add_study(PLAIN, "t-st-1.toml", AUTHOR)
    return anywhere


@pytest.fixture
def kept(anywhere: Path) -> Path:
    services.add_study(PLAIN, "t-st-1.toml", AUTHOR, readings=(ROWS, "rows.csv"))
    return anywhere


def values(rows: str = ROWS) -> dict[int, Typed]:
    """The readings of a text as somebody types them beside the numbers of the drawn order."""
    study = services.study(ID).result.study
    from evenpull.study.readings import Design

    read = read_rows(rows, "r", Design(study.persons, study.part_names, study.replicates, "part"))
    by_place = {one.place: Typed(one.text) for one in read}
    return {n: by_place[place] for n, place in enumerate(drawn_order(study), start=1) if place in by_place}


def test_texts_are_kept_as_received_and_what_came_out_with_them(kept: Path) -> None:
    view = services.study(ID)
    assert view.result.study.text == PLAIN and view.result.study.rows == ROWS
    assert (view.row.author, view.row.tools, view.row.persons) == (
        AUTHOR, ("TW-0219",), ("J. Mwangale", "R. Fjeldgaard"))
    assert view.row.outcome == view.now and not view.differences and view.latest
    assert view.row.outcome.line.startswith("Measuring scatters with s = ")
    fact = Fact.objects.get(kind="study")
    assert fact.data["rules"] == "study rules 1" and fact.data["text"] == PLAIN and fact.data["readings"] == ROWS
    assert services.check_log() == []


def test_the_same_texts_again_change_nothing(kept: Path) -> None:
    before = services.log_status()
    assert not services.add_study(PLAIN, "copy.toml", AUTHOR, readings=(ROWS, "other.csv")).changed
    assert services.log_status() == before


def test_revisions_stay_readable(kept: Path) -> None:
    text = changed(PLAIN, ('revision = "A"', 'revision = "B"'), ("upper = 6", "upper = 9"))
    services.add_study(text, "b.toml", AUTHOR, readings=(ROWS, "rows.csv"))
    now, then = services.study(ID), services.study(ID, 1)
    assert (now.row.number, now.row.revision, len(now.revisions)) == (2, "B", 2) and not then.latest
    assert now.result.study.window.upper == 9 and then.result.study.window.upper == 6
    assert [(row.id, row.number) for row in services.studies()] == [(ID, 2)]


def test_another_outcome_of_a_later_version_is_seen_and_rounding_is_not(
    kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = services.study(ID).now
    key, value, low, high = found.figures[0]
    for factor, told in ((1 + 1e-8, ()), (1.001, (key,))):
        other = replace(found, figures=((key, value * factor, low, high), *found.figures[1:]))
        monkeypatch.setattr(studying, "kept_of", lambda _, other=other: other)
        assert tuple(one[0] for one in services.study(ID).differences) == told
    monkeypatch.setattr(studying, "kept_of", lambda _: replace(found, state="cannot be judged", figures=()))
    changes = services.study(ID).differences
    assert changes[0] == ("state", "judged", "cannot be judged") and changes[1][2] == "not there"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (changed(PLAIN, ('id = "T-ST-1"', 'id = "t-st-1"')), "only in capitals"),
        (changed(PLAIN, ('id = "T-ST-1"', f'id = "{JOINT}"')), "is the id of a joint"),
    ],
)  # fmt: skip
def test_refusals_write_nothing(kept: Path, text: str, says: str) -> None:
    furnish()
    before = services.log_status()
    with pytest.raises(services.Refused, match=says):
        services.add_study(text, "x.toml", AUTHOR)
    with pytest.raises(services.Refused, match="own name"):
        services.add_study(PLAIN, "x.toml", " ")
    with pytest.raises(SpecificationError, match="replicates"):
        services.add_study(changed(PLAIN, ("replicates = 2", "replicates = 1")), "x.toml", AUTHOR)
    assert services.log_status() == before


def test_unknown_names_get_near_ones(kept: Path) -> None:
    with pytest.raises(services.Unknown, match=ID):
        services.study("T-ST-2")
    with pytest.raises(services.Unknown, match="1 to 1"):
        services.study(ID, 2)


def test_a_study_is_found_by_its_tool_device_and_persons(kept: Path) -> None:
    for what, name in (("tool", "TW-0219"), ("tool", "cd-0003"), ("person", "r.  fjeldgaard")):
        assert [row.id for row in services.studies_naming(what, name)] == [ID], name
    assert services.studies_naming("person", "TW-0219") == [] == services.studies_naming("tool", "A. Lund")
    other = changed(PLAIN, ('"R. Fjeldgaard"', '"S. Tamblyn"'), ('revision = "A"', 'revision = "B"'))
    services.add_study(other, "b.toml", AUTHOR)
    assert services.studies_naming("person", "R. Fjeldgaard") == [], "the revision in force does not name him"
    assert index_check.differences() == []
    rows = sorted(Mention.objects.filter(kind__startswith="study").values_list("kind", "name", "seq"))
    from evenpull.store.services import index

    index.rebuild()
    assert sorted(Mention.objects.filter(kind__startswith="study").values_list("kind", "name", "seq")) == rows


def test_what_a_study_counts_for_ends_with_the_tool(anywhere: Path) -> None:
    services.add_study(PLAIN + VALID, "v.toml", AUTHOR, readings=(ROWS, "rows.csv"))
    view = services.study(ID)
    assert view.standing.state == "counts" and "another person, which somebody has to see" in view.standing.words
    services.add_entry("tool dropped", "TW-0219", {"what": "fell from the mast"}, KEEPER,
                       at=datetime(2026, 2, 1, tzinfo=UTC), reason="written at the desk")
    view = services.study(ID)
    assert view.standing.state == "ended" and "tool dropped, TW-0219" in view.standing.words
    (row,) = services.studies_naming("tool", "TW-0219")
    assert services.standing_of(row.claim) == view.standing
    assert services.standing_of(row.claim, date(2026, 1, 20)).state == "counts"


# running -------------------------------------------------------------------------------------------------------------


def test_a_study_is_run_on_the_page_in_two_sittings(planned: Path) -> None:
    every = values()
    first = {n: one for n, one in every.items() if n <= 3}
    row = services.type_readings(ID, first, KEEPER, seen=1)
    assert row.number == 2 and row.outcome.line == "incomplete: 5 of 8 readings are missing"
    row = services.type_readings(ID, {n: one for n, one in every.items() if n > 3}, KEEPER, seen=2)
    assert row.outcome.state == "judged" and row.author == KEEPER
    alone = services.study(ID).result
    services.add_study(PLAIN, "again.toml", AUTHOR, readings=(ROWS, "rows.csv"))
    assert alone.outcome.figures == services.study(ID).result.outcome.figures
    assert [one.place for one in alone.study.readings] == list(drawn_order(alone.study))
    assert services.check_log() == []


def test_a_reading_that_stands_there_is_corrected_with_a_remark_and_kept(planned: Path) -> None:
    every = values()
    services.type_readings(ID, every, KEEPER, seen=1)
    place = drawn_order(services.study(ID).result.study)[0]
    with pytest.raises(services.TypingError, match="say in the remark why"):
        services.type_readings(ID, {1: Typed("111.1")}, KEEPER, seen=2)
    with pytest.raises(services.TypingError, match="cannot be taken away"):
        services.type_readings(ID, {1: Typed("", "no")}, KEEPER, seen=2)
    services.type_readings(ID, {1: Typed("111.1", "digits swapped, seen on the card")}, KEEPER, seen=2)
    study = services.study(ID).result.study
    assert study.counted[place].value == 111.1 and study.state == "complete"
    former = [one for one in study.readings if one.place == place]
    assert [one.text for one in former] == [every[1].value, "111.1"]
    assert former[0].left_out == "corrected: digits swapped, seen on the card"
    assert former[1].remark == f"corrected from {every[1].value}"
    assert any("Left out:" in remark for remark in services.study(ID).result.outcome.remarks)
    # the same again changes nothing
    before = services.log_status().size
    services.type_readings(ID, {1: Typed("111,1")}, KEEPER, seen=3)
    assert services.log_status().size == before


def test_a_place_that_cannot_be_read_says_why_and_may_be_read_later(planned: Path) -> None:
    every = values()
    services.type_readings(ID, every | {2: Typed("", "display dark")}, KEEPER, seen=1)
    result = services.study(ID).result
    assert result.state == "incomplete" and any("could not be read: display dark" in r for r in result.outcome.remarks)
    services.type_readings(ID, {2: every[2]}, KEEPER, seen=2)
    assert services.study(ID).result.state == "judged"


def test_faults_in_what_was_typed_come_at_once_and_write_nothing(planned: Path) -> None:
    before = services.log_status()
    with pytest.raises(services.TypingError) as caught:
        services.type_readings(ID, {1: Typed("12 N.m"), 2: Typed("1e3"), 3: Typed("5"), 99: Typed("5")}, KEEPER, seen=1)
    assert set(caught.value.faults) == {1, 2, 99}
    with pytest.raises(services.TypingError, match="no reading was typed"):
        services.type_readings(ID, {}, KEEPER, seen=1)
    services.type_readings(ID, {3: Typed("5")}, KEEPER, seen=1)
    with pytest.raises(services.Refused, match="you started from revision 1"):
        services.type_readings(ID, {4: Typed("5")}, KEEPER, seen=1)
    assert services.log_status().size == before.size + 1


def test_readings_in_the_file_itself_go_on_there(anywhere: Path) -> None:
    services.add_study(with_rows(PLAIN, "\n".join(ROWS.splitlines()[:3]) + "\n"), "t.toml", AUTHOR)
    with pytest.raises(services.Refused, match="stand in its own file"):
        services.type_readings(ID, {1: Typed("5")}, KEEPER, seen=1)


# cards ---------------------------------------------------------------------------------------------------------------


def test_a_card_is_printed_typed_back_and_named_in_the_fact(planned: Path) -> None:
    card, pdf = services.issue_study_card(ID, "a4", KEEPER)
    assert pdf.startswith(b"%PDF") and services.study_card_pdf(card.serial) == pdf and card.lines == 8
    assert services.card_to_type(f" {card.serial.lower()} ") == card
    row = services.type_readings(ID, values(), KEEPER, seen=1, card=card.serial)
    assert row.card == card.serial and services.study(ID).row.card == card.serial
    assert services.cards_of_study(ID) == (card,)
    with pytest.raises(services.Refused, match="all readings of T-ST-1 are there"):
        services.issue_study_card(ID, "a4", KEEPER)


def test_cards_of_one_person_and_refusals(planned: Path) -> None:
    one, _ = services.issue_study_card(ID, "us-letter", KEEPER, "R. Fjeldgaard")
    two, _ = services.issue_study_card(ID, "a4", KEEPER)
    assert one.lines == 4 and one.person == "R. Fjeldgaard" and one.serial != two.serial
    before = services.log_status()
    for what, words in (("a3", "is no paper"), ("a4", "is not a person of T-ST-1")):
        with pytest.raises(services.Refused, match=words):
            services.issue_study_card(ID, what, KEEPER, "A. Lund")
    with pytest.raises(services.Unknown, match="no card"):
        services.study_card_pdf("T-ST-1-0000-00")
    wrong = one.serial[:-1] + ("1" if one.serial[-1] != "1" else "2")
    with pytest.raises(services.Refused, match="check digits do not fit"):
        services.card_to_type(wrong)
    assert services.log_status() == before


def test_a_card_of_an_earlier_plan_is_not_typed_into_a_later_one(planned: Path) -> None:
    card, _ = services.issue_study_card(ID, "a4", KEEPER)
    services.add_study(changed(PLAIN, ("replicates = 2", 'replicates = 2\ndraw = "2"')), "b.toml", AUTHOR)
    with pytest.raises(services.Refused, match="the plan has been changed since"):
        services.card_to_type(card.serial)
    with pytest.raises(services.Refused, match="the plan has been changed since"):
        services.type_readings(ID, values(), KEEPER, seen=2, card=card.serial)


def test_a_card_of_another_study_is_refused(planned: Path) -> None:
    services.add_study(changed(PLAIN, ('id = "T-ST-1"', 'id = "T-ST-2"')), "2.toml", AUTHOR)
    card, _ = services.issue_study_card("T-ST-2", "a4", KEEPER)
    with pytest.raises(services.Refused, match="belongs to study T-ST-2"):
        services.type_readings(ID, values(), KEEPER, seen=1, card=card.serial)


def test_a_back_up_holds_the_card(planned: Path, tmp_path: Path) -> None:
    """The bytes of a printed card are named by its fact, so that a back-up without them is not taken for whole."""
    from evenpull.evidence.backup_facts import NAMES_FILE

    card, _ = services.issue_study_card(ID, "a4", KEEPER)
    fact = Fact.objects.get(kind="study card")
    sha = fact.data[NAMES_FILE["study card"]]
    assert services.raw_path(sha).read_bytes() == services.study_card_pdf(card.serial)


# drift ---------------------------------------------------------------------------------------------------------------


def shift_check(day: int, device: str, result: str = "within limits") -> None:
    services.add_entry(
        "shift check", "TW-0219", {"set": "200 N.m", "device_value": device, "device": "CD-0003", "result": result},
        KEEPER, at=datetime(2026, 3, day, 6, tzinfo=UTC), reason="from the book of the store",
    )  # fmt: skip


def test_the_drift_of_a_tool_is_that_of_its_shift_checks(anywhere: Path) -> None:
    shown = ["199.1 N.m", "200.4 N.m", "199.8 N.m", "200.9 N.m", "147.6 lbf.ft", "199.5 N.m", "200.2 N.m"]
    for day, text in enumerate(shown, start=1):
        shift_check(day, text)
    shift_check(9, "0 N.m", "outside limits")
    view = services.drift_of("TW-0219", baseline=4)
    (one,) = view.drift.series
    assert len(one.checks) == 7 and view.checks == 7
    assert [round(c.a, 5) for c in one.checks[:2]] == [round(200 / 199.1 - 1, 5), round(200 / 200.4 - 1, 5)]
    assert one.checks[4].device == pytest.approx(147.6 * 1.3558179, rel=1e-6)
    assert view.unusable and "no deviation without a torque" in view.unusable[0]
    later = services.drift_of("TW-0219", since=date(2026, 3, 4))
    assert later.drift.series[0].checks[0].at.day == 4
    with pytest.raises(services.Unknown, match="TW-9999"):
        services.drift_of("TW-9999")
    with pytest.raises(services.Refused, match="4 or more"):
        services.drift_of("TW-0219", baseline=2)


def test_the_interval_comes_from_the_certificates_that_are_kept(anywhere: Path) -> None:
    """Four certificates of a wrench that loses 0.6 % a year and is set right each time; the limit is the register's."""
    services.add_equipment(REGISTER, "equipment.toml", AUTHOR)
    text = FORM
    for year, drifted in ((2022, 0.005), (2023, 0.007), (2024, 0.006), (2025, 0.006)):
        stages = (("as found", drifted), ("as left", 0.001))
        points = "".join(point(stage, X, round(X / (1 + a), 4)) for stage, a in stages for X in (50, 200))
        text += certificate("TW-0301", f"KNC-{year}", points=points).replace("2026-03-02", f"{year}-03-02").replace(
            "2027-03-01", f"{year + 1}-03-01")  # fmt: skip
    services.add_certificates(text, "certificates.toml", AUTHOR, confirmed=True)
    view = services.drift_of("TW-0301")
    advice = view.drift.advice
    assert advice is not None and 0 < advice.interval <= 366, view.drift.no_advice
    assert "4 certificates (KNC-2022 to KNC-2025), clockwise" in view.basis[0] and "1.2 %" in view.basis[0]
    assert "Permissible deviation 4 %" in view.basis[1]
    assert all(0.004 < one.rate * 365.25 < 0.008 for one in advice.drifts if one.law == "steady")
    other = services.drift_of("TW-0301", calibrations=[Calibration(date(2024, 1, 1), 0.01)], limit=0.04)
    assert other.drift.advice is None and "at least 3 are needed" in other.drift.no_advice and not other.basis
    services.add_certificates(FORM + HYDRAULIC, "hydraulic.toml", AUTHOR, confirmed=True)
    gauge = services.drift_of("HG-0041")  # its scale is a pressure: no torque is made of it
    assert all("certificates" not in words for words in gauge.basis) and gauge.drift.advice is None
