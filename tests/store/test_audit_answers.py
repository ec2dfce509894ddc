"""Every question of the auditor's checklist has its answer, on a page and by a command, and the answer is right."""

from __future__ import annotations

import html
import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from evenpull.demo import scenario
from evenpull.ledger.cards import CardStanding
from evenpull.ledger.terms import TERMS
from evenpull.proof.rules import RULES
from evenpull.store import services
from evenpull.store.models import Fact
from evenpull.store.services import (
    accounts,
    audit,
    audit_facts,
    audit_lists,
    audit_people,
    audit_start,
    audit_tools,
    card_register,
    log,
)  # fmt: skip
from tests.cli.calling import call
from tests.store import audit_story as story
from tests.store.mishandled import BOTH, Base, base_of
from tests.store.mishandled import opened as in_dossier
from tests.store.people import HEADERS, PASSWORD, fast_hashing, logged_in, opened
from tests.store.samples import AUTHOR, JOINT, MAPPING, file_of, furnish, row
from tests.store.test_dossier import hall

__all__ = ["fast_hashing", "hall"]  # fixtures


@dataclass(frozen=True)
class Told:
    """A dossier in which the story was told: its folder, the serial of the card that came back."""

    home: Path
    serial: str


@pytest.fixture(scope="module")
def kept() -> dict[str, tuple[Base, str]]:
    """The dossiers that copies are made of, by their database."""
    return {}


@pytest.fixture(params=BOTH)
def told(
    request: pytest.FixtureRequest, kept: dict[str, tuple[Base, str]], tmp_path_factory: pytest.TempPathFactory,
    settings: Any, django_db_blocker: Any,
) -> Iterator[Told]:  # fmt: skip
    """A copy for each test; the story itself is told once on each database."""
    if request.param not in kept:
        base = base_of(request, tmp_path_factory.mktemp("told"))
        with in_dossier(settings, django_db_blocker, base.home, base.address):
            services.prepare()
            kept[request.param] = base, story.told()
    base, serial = kept[request.param]
    with base.copy() as (home, address), in_dossier(settings, django_db_blocker, home, address):
        # As a program begins that finds the folder made: the findings in it are sealed with its key.
        settings.SECRET_KEY = (home / "cookie-key").read_text(encoding="ascii")
        yield Told(home, serial)


on_the_embedded_one = pytest.mark.parametrize("told", ["sqlite"], indirect=True)


def page(path: str) -> str:
    answer = Client(**HEADERS).get(path, follow=True)
    assert answer.status_code == 200, (path, answer.status_code)
    return html.unescape(answer.content.decode())


def test_each_question_is_a_line_of_the_start_page_and_its_answer_opens(dossier: Path) -> None:
    start = page("/audit/")
    for one in audit_start.answers():
        assert one.words in start and page(f"/audit/{one.page}")
    assert start.count(audit_start.NOTHING) > 20
    story.told()
    services.back_up(dossier.parent / "copy", AUTHOR)
    withdrawal_needs_its_own_branch = {"Which readings of files were withdrawn?"}
    for one in audit_start.answers():
        assert one.words in page("/audit/") and page(f"/audit/{one.page}")
        no_accounts = one.page == "lists/accounts/"
        assert one.nothing == (one.words in withdrawal_needs_its_own_branch or no_accounts), one


@on_the_embedded_one
def test_each_question_is_answered_by_its_command_and_as_json(told: Told) -> None:
    said = call("audit", "checklist").output
    for one in audit_start.answers():
        assert one.words in said
        words = one.command.replace("NAME", "KL-7731").split()
        assert call("audit", *words).output.strip(), words
        if words[0] != "draw":
            assert json.loads(call("audit", *words, "--json").output) is not None, words


def test_the_revisions_of_a_target_side_by_side(told: Told) -> None:
    found = audit_facts.history(JOINT)
    assert [one.revision for one in found.revisions] == ["C", "XC"] and found.revisions[1].author == story.ENGINEER
    changed = {one.key: one for one in found.rows}
    assert changed["source.revision"].values == ("C", "XC") and changed["source.revision"].changed == (False, True)
    assert changed["target.torque"].values == ("150 N.m", "145 N.m")
    assert [one.torque for one in found.revisions] == ["150 N·m", "145 N·m"]
    assert all(len(set(one.values)) > 1 for one in found.rows)
    assert audit_facts.revised() == ((JOINT, 2),)
    shown = page(f"/joints/{JOINT}/revisions/")
    assert "source.revision" in shown and "changed" in shown and story.ENGINEER in shown


def test_a_corrected_value_is_still_there_and_names_its_correction(told: Told) -> None:
    (row_of,) = audit_lists.page("corrections").rows
    correction = audit_facts.fact(row_of.seq)
    (seq,) = correction.names
    record = audit_facts.fact(seq)
    assert record.fits and record.signed and [one.seq for one in record.corrections] == [row_of.seq]
    assert any(line.startswith("fastener: 3") for line in record.lines), "as it was received"
    assert "to the letter" in page(f"/audit/facts/{seq}/") and f"fact {row_of.seq}" in page(f"/audit/facts/{seq}/")
    assert Client(**HEADERS).get("/audit/facts/99999/").status_code == 404


@on_the_embedded_one
def test_a_fact_that_was_altered_in_the_file_says_so(told: Told) -> None:
    import sqlite3

    with sqlite3.connect(told.home / "records.sqlite3") as database:
        database.execute("DROP TRIGGER fact_no_update")
        database.execute("UPDATE fact SET author = 'Somebody Else' WHERE seq = 3")
    assert not audit_facts.fact(3).fits
    assert "does not fit" in page("/audit/facts/3/") and "NOT THAT OF" in call("audit", "fact", "3", code=1).output


def test_cards_out_and_in(told: Told) -> None:
    states = {one.card.serial: one for one in card_register.of_joint(story.OTHER)}
    back = states[told.serial]
    assert (back.state, back.counted, back.typed) == ("returned", back.card.pages - 1, 3)
    assert f"{back.card.pages - 1} of {back.card.pages} pages came back" in back.open and back.kept == "binder 4"
    assert back.card.lines == sum(len(p.fasteners) for p in services.joint(story.OTHER).plan.pulls)
    assert sorted(one.state for one in states.values()) == ["lost", "out", "returned", "void"]
    assert [one.serial for one in card_register.strangers(story.OTHER)] == ["KN-CW-014-JWEV-99"]
    assert len(card_register.page("open").rows) == 2 and card_register.page().issued == 4
    out = card_register.out_of(story.OTHER)
    assert set(out) == {serial for serial, one in states.items() if one.state in ("lost", "out")}
    shown = page(f"/joints/{story.OTHER}/")
    assert back.open in shown and "JWEV-99" in shown and "not found; looked for" in shown
    assert told.serial in page("/audit/cards/?state=open")
    assert Client(**HEADERS).get("/audit/cards/?state=x").status_code == 404


def card(**more: Any) -> Any:
    from evenpull.ledger.cards import Issued

    start = datetime(2026, 3, 1, tzinfo=UTC)
    return Issued(**{"serial": "J-0000-00", "joint": "J", "by": "A. Vance", "issued_at": start, "pages": 2, "lines": 8,
                     "valid_until": start + timedelta(hours=48), **more})  # fmt: skip


def entry(seq: int, kind: str, **values: str) -> Any:
    from evenpull.ledger.entry import Entry

    at = datetime(2026, 3, 2, tzinfo=UTC)
    said = {"card": " j-0000-00"} | values
    return Entry("", kind, "joint", "J", "", (), at, 0.0, "did it", "", "A. Vance", at, said, seq)


@pytest.mark.parametrize(
    ("entries", "typed", "day", "state", "opened_by"),
    [
        ([], 0, 2, "out", ""),
        ([], 3, 2, "out", "the paper is not back"),
        ([], 0, 4, "overdue", "and not back"),
        ([("card returned", "2", "filled in")], 3, 9, "returned", ""),
        ([("card returned", "2", "filled in")], 0, 9, "returned", "nothing of it has been typed"),
        ([("card returned", "1", "filled in")], 3, 9, "returned", "1 of 2 pages"),
        ([("card returned", "3", "filled in")], 3, 9, "returned", "a page of another card"),
        ([("card returned", "2", "unused")], 0, 9, "unused", ""),
        ([("card returned", "2", "void")], 1, 9, "void", "1 lines are said"),
        ([("card lost", "", "")], 0, 2, "lost", "not found"),
        ([("card lost", "", ""), ("card returned", "2", "unused")], 0, 9, "unused", ""),
    ],
)
def test_what_a_card_is(entries: list[Any], typed: int, day: int, state: str, opened_by: str) -> None:
    from evenpull.ledger.cards import standing

    said = [
        entry(n, kind, pages=pages, state=how, searched="in the store") for n, (kind, pages, how) in enumerate(entries)
    ]
    found: CardStanding = standing(card(), said, typed, datetime(2026, 3, day, tzinfo=UTC))
    assert found.state == state and opened_by in found.open and bool(found.open) == bool(opened_by)


def test_a_signature_names_the_cards_that_are_out(hall: Path) -> None:
    """Neither a card that is out nor its coming back takes a release away."""
    kept, lost = (services.issue_card("KN-BH-021", "a4", AUTHOR)[0].serial for _ in range(2))
    services.add_entry("card lost", "KN-BH-021", {"card": lost, "searched": "hall"}, AUTHOR, reason="not handed in")
    services.sign_release("KN-BH-021", AUTHOR, "Tightened, checked and recorded as specified.")
    assert Fact.objects.get(kind="release").data["signed"]["cards_out"] == [kept, lost]
    services.add_entry("card returned", "KN-BH-021", {"card": kept, "pages": "7", "state": "unused"}, AUTHOR)
    standing = services.joint("KN-BH-021").standing
    assert standing.startswith("released"), standing


def test_what_may_not_be_used_and_what_is_on_record_since(told: Told) -> None:
    rows = {(one.what, one.name): one for one in audit_people.barred()}
    tool = rows["tool", "TW-0219"]
    assert "outside its limits" in tool.why and tool.pulls == 0 and len(tool.refused) == 1
    assert "not passed" in rows["person", "B. Quayle"].why and "hardness" in rows["lot", "KL-7731"].why
    services.add_entry("tool blocked", "TW-0207", {}, story.KEEPER, reason="dropped", basis="from paper",
                       at=datetime(2026, 3, 1, tzinfo=UTC))  # fmt: skip
    rows = {(one.what, one.name): one for one in audit_people.barred()}
    assert rows["tool", "TW-0207"].pulls == Fact.objects.filter(kind="tightening", body__contains="TW-0207").count()
    assert "Not to be used" in page("/audit/find/?what=tool&name=TW-0207")
    assert audit_people.refused_to(AUTHOR) == tool.refused
    assert "Refused" in page(f"/audit/find/?what=person&name={AUTHOR}")


def test_who_closed_an_account_last_is_named_from_one_look_at_the_acts(anywhere: Path) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    accounts.add_account("a.bee", "A. Bee", "administrator", PASSWORD, "A. Bee")
    for login, name in (("c.dee", "C. Dee"), ("e.eff", "E. Eff")):
        accounts.add_account(login, name, "auditor", PASSWORD, "A. Bee")
        accounts.close_account(login, "A. Bee")
    accounts.reopen_account("c.dee", "A. Bee")
    accounts.close_account("c.dee", "G. Haitch")
    with CaptureQueriesContext(connection) as caught:
        rows = audit_people.barred()
    assert [(one.what, one.name, one.why) for one in rows] == [
        ("account", "C. Dee", "c.dee: closed by G. Haitch"), ("account", "E. Eff", "e.eff: closed by A. Bee"),
    ]  # fmt: skip
    assert sum("'account'" in one["sql"] for one in caught.captured_queries) == 1


def test_training_holds_or_not_by_each_entry_of_its_own(told: Told) -> None:
    said = {"qualification": "flange assembly", "issued_by": "School", "from": "2020-01-01", "until": "2021-01-01"}
    services.add_entry("qualification", story.OPERATOR, said, AUTHOR)
    rows = [(one.person, one.last, one.holds) for one in audit_people.training().rows]
    assert rows == [
        (story.OPERATOR, "2021-01-01", False), ("B. Quayle", "2035-01-01", False), (story.OPERATOR, "2035-01-01", True),
    ]  # fmt: skip


def test_a_checker_who_tightened_after_all_is_seen(told: Told) -> None:
    (one,) = audit_people.inspections().rows
    assert one.separate and one.operators == (story.OPERATOR,)
    late = row(77, bolt=2).replace("J. Mwangale", story.CHECKER)
    services.commit_file("later.csv", file_of([late]), MAPPING, AUTHOR)
    assert [one.separate for one in audit_people.inspections().rows] == [False]


def test_counters_and_trips_are_reconciled(told: Told) -> None:
    (memory,) = [one for one in audit_tools.memories().rows if one.tool == "TW-0207" and one.last == 41]
    assert (memory.first, memory.records, memory.unread, memory.missing) == (1, 11, 1, 41 - 12)
    (trip,) = audit_tools.trips("TW-0207", audit.tool("TW-0207").entries)
    assert (trip.pulls, trip.records, trip.to) == (10, 8, story.OPERATOR)
    clock = next(one for one in audit_tools.clock_page().rows if one.tool == "TW-0207")
    assert (clock.contacts, clock.offset) == (1, 4.0)
    assert audit_tools.memories(after="TW-0207").rows == ()


def test_a_heat_finds_the_fasteners_of_every_lot_received_with_it(told: Told) -> None:
    by_lot, by_heat = audit.lot("KL-7731"), audit.lot("h-204")
    assert by_heat.kind == "heat" and by_heat.lots == ("KL-7731",)
    places = {(one.joint, one.fastener) for one in by_heat.fasteners}
    assert {(JOINT, 1), (JOINT, 4), (story.TWIN, 2)} <= places
    assert {(one.joint, one.fastener) for one in by_lot.fasteners} == places
    assert "Lots received with this heat" in page("/audit/find/?what=lot&name=H-204")


def test_what_failed_joints_share_is_found(told: Told) -> None:
    found = {(one.what.rpartition(" share ")[2].split(":")[0], one.key): one.places for one in audit.recurrences()}
    assert ("the same fastener found loose again", f"{JOINT}, fastener 3") in found
    for what, name in (("the same lot", "kl-7731"), ("the same operator", "j. mwangale"), ("the same tool", "TW-0207")):
        assert set(found[what, name]) == {JOINT, story.TWIN}, what
    alike = audit.siblings(JOINT)
    assert [one.joint for one in alike["alike, and tightened by the same person"]] == [story.OTHER, story.TWIN]
    assert "looked at" in page("/audit/lists/siblings-checked/").lower()


def test_an_exception_report_is_read_by_somebody_and_what_comes_after_is_not(
    told: Told, fast_hashing: None
) -> None:
    newest = audit_lists.page("exceptions").rows[0].seq
    assert audit_lists.unread("exceptions") == 1
    for which, upto, found, why in (
        ("exceptions", newest, "ok", "say what was found"),
        ("hand-overs", newest, "all in order", "no exception report"),
        ("exceptions", newest - 1, "all in order", "is not in the list"),
    ):  # fmt: skip
        with pytest.raises(services.Refused, match=why):
            audit_lists.review(which, upto, found, AUTHOR)
    done = audit_lists.review("exceptions", newest, "one, with a letter", AUTHOR)
    assert done.rows == 1 and audit_lists.unread("exceptions") == 0 and audit_lists.reviews("exceptions") == (done,)
    with pytest.raises(services.Refused, match="already"):
        audit_lists.review("exceptions", newest, "once more", AUTHOR)
    said = {"gate": "parts", "authority": "letter 26-119"}
    services.add_entry("exception", JOINT, said, story.ENGINEER, reason="washers are on their way")
    assert audit_lists.unread("exceptions") == 1
    auditor, checker = logged_in(opened("auditor")), logged_in(opened("checker"))
    newest = audit_lists.page("exceptions").rows[0].seq
    form = {"upto": str(newest), "found": "a second one, with a letter", "password": PASSWORD}
    assert auditor.post("/audit/lists/exceptions/", form).status_code == 403
    assert checker.post("/audit/lists/exceptions/", form | {"password": "wrong"}).status_code == 403
    assert audit_lists.unread("exceptions") == 1
    assert checker.post("/audit/lists/exceptions/", form).status_code == 302
    assert audit_lists.unread("exceptions") == 0
    fact = Fact.objects.filter(kind="list reviewed").order_by("-seq")[0]
    assert "password" in fact.data["identity"] and fact.data["rows"] == 1


def test_a_list_of_several_marks_is_in_order_and_turns_its_pages(told: Told) -> None:
    for number in range(60):
        kind = ("tool blocked", "tool unblocked")[number % 2]
        values = {"evidence": "checked"} if number % 2 else {}
        services.add_entry(kind, "TW-0252", values, story.KEEPER, reason="once more")
    first = audit_lists.page("tools-in-doubt")
    rest = audit_lists.page("tools-in-doubt", first.before)
    seqs = [one.seq for one in (*first.rows, *rest.rows)]
    assert len(first.rows) == 50 and seqs == sorted(set(seqs), reverse=True)
    assert len(seqs) == audit_lists.count("tools-in-doubt") == 61


def test_a_fact_of_ten_years_ago_can_be_read(dossier: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Then(datetime):
        @classmethod
        def now(cls, tz: Any = None) -> datetime:
            return datetime(2014, 5, 6, 7, 8, 9, tzinfo=tz)

    monkeypatch.setattr(log, "datetime", Then)
    furnish()
    monkeypatch.undo()
    old = Fact.objects.count()
    text = scenario.joint_text("kn-cw-008") + '\n[keeping]\nretention = "life of the plant"\nyears = 30\n'
    services.add_joint(text, "kept.toml", AUTHOR)
    services.refresh()
    found = audit_facts.oldest(seed=7)
    assert found.count == old and found.old is not None and found.old.fits and found.old.signed
    assert found.old.row.written_at.year == 2014
    assert "life of the plant" in audit_facts.kept().rows[0].rule
    shown = page("/audit/keeping/")
    assert f"the {old} facts that are 10 years old" in shown and "2014-05-06" in shown


def test_terms_name_every_flag_and_say_where_they_come_from(dossier: Path) -> None:
    assert all(one.meaning and one.source for one in TERMS)
    assert [one.word for one in TERMS] == sorted({one.word for one in TERMS})
    shown = page("/audit/terms/")
    assert all(one.word[1:] in shown for one in TERMS) and all(code in shown for code in RULES)


def test_what_one_person_wrote_is_all_of_it_page_by_page(told: Told) -> None:
    rows = [Fact.objects.order_by("seq").filter(author=who).exclude(kind__in=("tightening", "unread row"))
            for who in (AUTHOR, story.ENGINEER)]  # fmt: skip
    for who, written in zip((AUTHOR, story.ENGINEER), rows, strict=True):
        found, before = list[int](), None
        while True:
            page = audit.changes(author=who, before=before)
            found += [row.seq for row in page.rows]
            if (before := page.before) is None:
                break
        assert found == [one.seq for one in reversed(written)] and found
        of_kind = audit.changes(author=who, kind="entry").rows
        assert [row.seq for row in of_kind] == [one.seq for one in reversed(written) if one.kind == "entry"]
