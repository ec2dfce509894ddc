"""What one person keyed is shown to nobody else before a second person has keyed the page.

Only what is shown is masked: the fact itself stays whole, in its digest, in bundles and in back-ups.
"""

from __future__ import annotations

from typing import Any

from evenpull.ledger.people import folded
from evenpull.store.models import Fact
from evenpull.store.services.fact_kinds import KEYING_DECIDED, PAGE_KEYED
from evenpull.store.services.paper_marks import counting, marks_of, scans_of
from evenpull.store.services.paper_scans import kept_page

HIDDEN = "hidden until a second person has keyed this page"


def shown_data(fact: Fact, reader: str) -> Any:
    """The content of a fact as `reader` may see it: a full name, "" for nobody in particular.

    The answers of a page are hidden from all but their author while the scan of it that counts has been keyed by fewer
    than two; so are those of a scan that was set aside, since the same paper is keyed again.
    """
    data = fact.data
    if fact.kind not in (PAGE_KEYED, KEYING_DECIDED) or (reader and folded(reader) == folded(fact.author)):
        return data
    kept = kept_page(data["scan"], data["picture"])
    scans = scans_of(kept)
    marks = marks_of(scans)
    count = counting(scans, marks).get((kept.page.serial, kept.page.page), kept)
    if len(marks.state(count.page).keyed) >= 2:
        return data
    return data | {"answers": HIDDEN} | ({"why": HIDDEN} if fact.kind == KEYING_DECIDED else {})
