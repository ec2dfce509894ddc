"""A row of the index that is taken out, changed or put in is found, whichever of its kinds it is."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.db.models import F

from evenpull.store import services
from evenpull.store.models import Finding, Mention, Pull
from evenpull.store.services import findings, index_check
from tests.cli.calling import call
from tests.store.samples import AUTHOR, JOINT, MAPPING, file_of, furnish, row

CARDED = (
    'form = "evenpull mapping 1"\nname = "cards"\n[file]\nkind = "csv"\ndelimiter = ";"\n[time]\ncolumn = "when"\n'
    'format = "%Y-%m-%d %H:%M"\nzone = "UTC"\n[columns]\njoint = "tag"\nfastener = "bolt"\npass = "round"\n'
    'tool = "wrench"\noperator = "by"\ndirection = { value = "tighten" }\nend_cause = { value = "reached" }\n'
    '[torque]\ncolumn = "moment"\nunit = "N.m"\n'
    '[[particular]]\nname = "card"\ncolumn = "card"\n[[particular]]\nname = "heat"\ncolumn = "heat"\n'
    '[[particular]]\nname = "late_basis"\ncolumn = "basis"\n[[particular]]\nname = "resolved_by"\ncolumn = "third"\n'
    '[[particular]]\nname = "bolt_lot"\ncolumn = "lot"\n[[particular]]\nname = "adapter"\ncolumn = "adapter"\n'
)
CARDS = (
    "when;tag;bolt;round;wrench;by;moment;card;heat;basis;third;lot;adapter\n"
    f"2026-03-17 10:00;{JOINT};3;1;TW-0207;J. Mwangale;41;C-1;H-204;from paper;R. Okello;KL-9;AD-2\n"
)


def lived() -> None:
    """A dossier whose index has at least one row of each kind."""
    furnish()
    first = [row(n, bolt=n) for n in range(1, 6)]
    first += [row(6, bolt=8).replace(";right;", ";left;"), row(9, joint="KN-CW-041"), row(10, moment="see card")]
    services.commit_file("a.csv", file_of(first), MAPPING, AUTHOR)
    services.commit_file("b.csv", file_of([*first[:2], row(11, bolt=6)]), MAPPING, AUTHOR)
    services.add_mapping(CARDED, "cards.toml", AUTHOR)
    services.commit_file("cards.csv", CARDS.encode(), "cards", AUTHOR)
    say = services.add_entry
    say("as found", JOINT, {"leaking": "no", "marks": "broken", "loose": "3"}, AUTHOR)
    say("removed", JOINT, {"why": "seal"}, AUTHOR, fasteners="2", once="once-00000001")
    parts = {"part": "bolt", "condition": "new", "lot": "KL-1", "heat": "H-1"}
    say("parts fitted", JOINT, parts, AUTHOR, fasteners="2")
    say("tool blocked", "TW-0207", {}, AUTHOR, reason="dropped on deck")
    say("test", JOINT, {"test": "leak", "result": "not passed"}, AUTHOR)
    say("qualification withdrawn", "J. Mwangale", {"qualification": "bolting"}, AUTHOR, reason="exercise not passed")
    flag = next(f for f in services.joint(JOINT).proof.open_flags if f.code == "unread row")
    services.dispose(JOINT, flag.key, "engineering review", "the card was read", AUTHOR)
    services.refresh()


def test_a_whole_index_is_what_the_facts_give(anywhere: Path) -> None:
    assert index_check.differences() == []
    lived()
    assert index_check.differences() == [] and findings.differing() == []
    findings.rebuild()
    assert index_check.differences() == []


def test_a_row_of_each_kind_that_is_missing_is_found(anywhere: Path) -> None:
    lived()
    kinds = set(Mention.objects.values_list("kind", flat=True))
    assert kinds >= {
        "unread", "sha256", "file", "repeated", "lot", "heat", "card", "tool", "person", "late", "loose", "failed",
        "once", "entry", "undone", "decision", "kind", "author", "stranger",
    }  # fmt: skip
    for kind in sorted(kinds):
        one = Mention.objects.filter(kind=kind).order_by("pk").first()
        assert one is not None
        Mention.objects.filter(pk=one.pk).delete()
        assert index_check.differences() != [], kind
        one.save(force_insert=True)
        assert index_check.differences() == [], kind


@pytest.mark.parametrize("column", ["kind", "name", "fold", "unit", "fastener", "seq", "n"])
def test_a_changed_mention_is_found(anywhere: Path, column: str) -> None:
    lived()
    one = Mention.objects.filter(kind="lot", fastener__isnull=False).order_by("pk").first()
    assert one is not None
    changed = f"{getattr(one, column)}x" if isinstance(getattr(one, column), str) else getattr(one, column) + 1
    Mention.objects.filter(pk=one.pk).update(**{column: changed})
    assert len(index_check.differences()) == 2, "one row is missing, one too many"


def test_each_changed_column_of_a_pull_is_found(anywhere: Path) -> None:
    lived()
    one = Pull.objects.filter(counter__isnull=False, angle__isnull=False).order_by("pk").first()
    assert one is not None
    for name in ("fold", "unit", "fastener", "pass_number", "event", "tool", "epoch", "counter", "operator", "time",
                 "torque", "angle", "file"):  # fmt: skip
        held = getattr(one, name)
        Pull.objects.filter(pk=one.pk).update(**{name: f"{held}x" if isinstance(held, str) else held + 1})
        (line,) = index_check.differences()
        assert name in line and f"fact {one.seq}" in line
        Pull.objects.filter(pk=one.pk).update(**{name: held})
    Pull.objects.filter(pk=one.pk).delete()
    assert index_check.differences() == [f"fact {one.seq}: the tightening is not in the index"]
    one.save(force_insert=True)
    Pull.objects.filter(pk=one.pk).update(seq=-7)
    assert len(index_check.differences()) == 2


def test_joints_taken_off_the_list_or_put_on_it_are_found(anywhere: Path) -> None:
    lived()
    Finding.objects.create(joint="KN-XX-000", fold="KN-XX-000")
    assert index_check.differences() == ["joint KN-XX-000: in the list of joints, and nobody described it"]
    Finding.objects.filter(joint="KN-XX-000").delete()
    Finding.objects.filter(joint=JOINT).delete()
    assert index_check.differences() == [f"joint {JOINT}: described, and not in the list of joints"]


def test_records_that_wait_for_a_joint_are_counted_by_meaning(anywhere: Path) -> None:
    lived()
    services.commit_file("c.csv", file_of([row(30, joint="KN-CW-041")]), MAPPING, AUTHOR)
    assert index_check.differences() == []
    Mention.objects.filter(kind="stranger").update(n=F("n") - 1)
    assert "KN-CW-041" in index_check.differences()[0]


def test_the_command_finds_a_block_that_was_hidden(dossier: Path) -> None:
    lived()
    assert "nothing differs" in call("audit", "rebuild", "--check").output
    Mention.objects.filter(kind="tool", name="tw-0207").delete()
    said = call("audit", "rebuild", "--check", code=1).output
    assert "names tool 'tw-0207'" in said
    call("audit", "rebuild")
    assert "nothing differs" in call("audit", "rebuild", "--check").output
