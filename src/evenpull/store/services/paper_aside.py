"""A scanned page set aside for a better scan of it: the other one counts from then on and is keyed afresh by two."""

from __future__ import annotations

from collections import Counter

from evenpull.store.services import received
from evenpull.store.services.errors import Refused
from evenpull.store.services.fact_kinds import SET_ASIDE
from evenpull.store.services.log import New, append, checked_author, checked_reason, writing
from evenpull.store.services.paper_admitting import refusals
from evenpull.store.services.paper_marks import marks_of, not_counting, place_of, scans_of
from evenpull.store.services.paper_scans import KeptPage, kept_page
from evenpull.store.services.paper_written import resting_on


def set_page_aside(scan: str, picture: int, why: str, author: str, *, identity: str = "") -> None:
    """Let another scan of a page count instead of this one, with the reason in words. What was keyed from it stays in
    the log and counts no more.

    Refused for a scan that does not count, where no other scan of the page may be keyed, and while records rest on what
    was keyed from it; Unknown where there is no such page.
    """
    who, reason = checked_author(author), checked_reason(why, "setting a scanned page aside")
    if not reason.isprintable():
        raise Refused("the reason holds characters that cannot be shown. Nothing was written.")
    with writing():
        kept = kept_page(scan, picture)
        page = kept.page
        scans = scans_of(kept)
        marks = marks_of(scans)
        if said := not_counting(kept, scans, marks):
            raise Refused(f"{said}: nothing is to be set aside here. Nothing was written.")
        _refuse_without_another(kept, [o for o in scans if o.seq != kept.seq and marks.aside_of(o.page) is None])
        _refuse_while_records_stand(kept)
        body = {
            "what": f"page {page.page} of card {page.serial}, scan {scan[:16]} picture {picture}, set aside: {reason}",
            "scan": scan, "picture": picture, "serial": page.serial, "page": page.page, "why": reason,
            "identity": identity, "keyed_by": [one.by for one in marks.state(page).keyed],
        }  # fmt: skip
        append([New(SET_ASIDE, f"{SET_ASIDE}:{place_of(page)}", body, kept.joint)], who)


def _refuse_without_another(kept: KeptPage, others: list[KeptPage]) -> None:
    page = kept.page
    if not others:
        raise Refused(f"no other scan of page {page.page} of card {page.serial} is here: scan the paper again, drop "
                      "the new file on Paper, then set this one aside. Nothing was written.")  # fmt: skip
    refused = refusals(others)
    if all(refused.values()):
        raise Refused(f"no other scan of page {page.page} may be keyed: {refused[others[-1].seq]}. Nothing was "
                      "written.")  # fmt: skip


def _refuse_while_records_stand(kept: KeptPage) -> None:
    records = resting_on(kept)
    if not records:
        return
    counts = Counter(row.file_sha256 for row in records)
    said = []
    for sha, count in sorted(counts.items()):
        fact = received.last_fact(sha)
        assert fact is not None  # its records count
        said.append(f"{count} in {fact.data['name']} (SHA-256 {sha})")
    raise Refused(
        f"{len(records)} records rest on what was keyed from page {kept.page.page} of card {kept.page.serial}: "
        f"{'; '.join(said)}. Withdraw that reading first, on the page of the file (Take in records) or by the command "
        "withdraw; then set the page aside. Nothing was written."
    )
