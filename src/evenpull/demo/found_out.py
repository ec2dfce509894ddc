"""The chapter in which a wrench is found out of tolerance, and what it tightened is reviewed."""

from __future__ import annotations

from pathlib import Path

from evenpull.demo import scenario
from evenpull.demo.decisions import CLERK, ENGINEER_OF_RECORD, LEAD
from evenpull.demo.teller import Teller
from evenpull.instrument.review import Verdict
from evenpull.report.review_words import lot_words, model_rows
from evenpull.review import lots
from evenpull.store import services
from evenpull.store.services import review_lists, review_marks, review_papers, reviewing

WRENCH = "TW-0233"
FOUND = {
    "serial": WRENCH, "kind": "out of tolerance", "at": "2026-05-04 10:30", "certificate": "KNC-26-0602",
    "words": "reads five to six percent high at the yearly look of the store, no drop known",
}  # fmt: skip
SAID = {
    "cause": "spring set after long use near the end of the scale; no drop on record",
    "action": "calibrated every six months instead of twelve, a shift check at the start of each shift",
    "same type": "TW-0219 and TW-0252 put on the check device, within 1.5 %",
    "notices": "owner of the crane told; no contract or rule of this site asks for more (decided by the lead)",
}


def review(tell: Teller, home: Path) -> None:
    """Open, decide and close the review of the wrench; write its report and list."""
    tell.chapter("A wrench is found out of tolerance")
    services.add_certificates(scenario.certificates_text(), "certificates.toml", CLERK, confirmed=True)
    known = review_marks.of_tool(WRENCH)
    head = known[0] if known else reviewing.open_review(reviewing.found_of(FOUND), LEAD)
    view = reviewing.review(head.id)
    outcome = view.now.outcome
    tell.say(f"{WRENCH} reads high. {outcome.touched.count} tightenings since its last good evidence rest on it.")
    for verdict in reversed(Verdict):
        tell.point(f"{outcome.counts[verdict]} {verdict.words}", 4)
    for name, said, *counts in model_rows(outcome):
        numbers = f"; {', '.join(counts)} surely in, doubtful, not judged, surely out" if counts[0] else ""
        tell.point(f"{name}: {said}{numbers}", 4)
    for lot in lots(outcome):
        tell.say(lot_words(lot))
    _decide(view)
    view = reviewing.review(head.id)
    for line in review_lists.lines(view, review_lists.matching(view)):
        tell.point(f"{line.joint}: {line.decided.words if line.decided else 'no disposition'}", 4)
    folder = home / "reports"
    folder.mkdir(exist_ok=True)
    (folder / f"review-{WRENCH}.pdf").write_bytes(review_papers.pdf(view))
    (folder / f"review-{WRENCH}.csv").write_bytes(review_lists.csv(view))
    tell.say(f"Report and list: reports/review-{WRENCH}.pdf and .csv. On the pages: Reviews; evenpull review show 1")


def _decide(view: reviewing.ReviewView) -> None:
    """Dispositions on both joints, what has to be said, and the signature; nothing where that is done."""
    number = view.head.id
    if view.closed is not None:
        return
    reviewing.decide(number, ["KN-ST-003"], "re-check all", "the load of all eight is in doubt: each to be taken to "
                     "its torque again with a sound wrench, under the eyes of the engineer", ENGINEER_OF_RECORD)
    reviewing.decide(number, ["KN-ST-003"], "work done", "all eight taken to 492 N.m on 6 May with the loan wrench of "
                     "the steel erector, sheet 26-141 in the file of the gantry", ENGINEER_OF_RECORD)
    reviewing.decide(number, ["KN-GA-030"], "re-tighten", "it is to be tightened again anyhow, with a wrench whose "
                     "certificate is valid", LEAD)
    for what, text in SAID.items():
        reviewing.say(number, what, text, LEAD)
    reviewing.close(number, "reviewed with the store and the engineer of record", LEAD)
