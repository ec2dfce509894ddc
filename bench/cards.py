"""Reading back aged cards: python -m bench.cards [--pages N] [--seeds A,B] [--dense] [--processes N] [--loud].

Truth is known, because the bench fills the cards in itself. Nothing is asserted here; docs/scan.md holds a run.

`--dense` takes pages with the checker's grid of large joints alone, half of them of 200 fasteners in four passes: ten
times as many boxes for the same work, to show how rare a wrong tick is. They are whole pages, filled in and aged as all
others are; but they are no sample of the pages of a site, and the boxes of one page share hand, light and creases, so
that the pages are counted as well.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cache
from multiprocessing import get_context

import cv2
import numpy as np

from bench.__main__ import JOINT, TOOLS
from bench.aged.ageing import DPIS, Aged, age
from bench.aged.filling import Filled, fill, rendered
from evenpull.card import CardPDF, PageData, make_card, make_serial
from evenpull.demo import scenario
from evenpull.plan import make_plan, read_specification, read_tools
from evenpull.scan.codes import mapped
from evenpull.scan.model import Picture, ScanError, ScannedPage
from evenpull.scan.read import read_picture
from evenpull.statistics.sampling import bad_share_limit

PAGES = 100  # of each seed
JOINTS = ("kn-cw-008", "kn-cw-014", "kn-tb-001", "kn-st-003", "kn-bh-021")
LARGE = "200 fasteners"  # an invented joint, no part of the scenario: up to 400 boxes on a page
DENSE_JOINTS = (LARGE, LARGE, "kn-tb-001", "kn-cw-014")  # grids of 160 to 400, of 108 and of 64 boxes
DENSE_BOXES = 60  # of a page, at the least
CALIBRATED_ON = (1, 2, 3, 301, 302)  # the limits of evenpull.scan were set on these seeds
CALIBRATED_ON_DENSE = (431, 432, 433, 434)  # and on these of dense pages
REPORTED = (501, 502, 503)  # and are reported on others


@dataclass
class Score:
    """Counts over pages and tick boxes; `wrong` are boxes read as the opposite of the truth."""

    pages: int = 0
    identity: int = 0
    places: int = 0
    read: int = 0
    boxes: int = 0
    wrong: int = 0
    ambiguous: int = 0
    struck: int = 0
    struck_missed: int = 0
    torn_boxes: int = 0
    wrong_pages: int = 0
    seconds: float = 0.0
    misplaced: list[float] = field(default_factory=list)
    reasons: Counter[str] = field(default_factory=Counter)

    @property
    def taken_for_plain(self) -> tuple[int, int]:
        """(boxes read as plain that are not what was read: wrong ones and those struck out; of how many boxes)."""
        return self.wrong + self.struck_missed, self.boxes + self.struck

    def add(self, other: Score) -> None:
        for name in self.__dataclass_fields__:
            mine = getattr(self, name)
            if isinstance(mine, Counter):
                mine.update(getattr(other, name))
            else:
                setattr(self, name, mine + getattr(other, name))


@cache
def made(joint: str, letter: bool) -> tuple[CardPDF, list[np.ndarray]]:
    """The card of a joint of the scenario, or of the large one, and its pages."""
    issued, until = datetime(2026, 3, 18, 6, 30, tzinfo=UTC), datetime(2026, 3, 20, 6, 30, tzinfo=UTC)
    text = JOINT.replace("passes = [50, 100]", "passes = [25, 50, 75, 100]")
    spec = read_specification(text if joint == LARGE else scenario.joint_text(joint), joint)
    tools_text = TOOLS if joint == LARGE else scenario.tools_text()
    tools = [tool for tool in read_tools(tools_text, "tools") if tool.serial in spec.tools_allowed]
    card = make_card(
        make_plan(spec, tuple(tools), issued.date()), serial=make_serial(spec.id, 7), issued_at=issued,
        valid_until=until, paper="us-letter" if letter else "a4",
    )  # fmt: skip
    return card, rendered(card.pdf)


def aged_page(seed: int, number: int, *, dense: bool = False) -> tuple[Filled, Aged]:
    """A page of a card of one of several sizes on either paper, filled and aged in its own way. Four of five have many
    boxes to tick, the fifth is any page of a card; of `dense` ones each has a large grid."""
    rng = np.random.default_rng([seed, number, 1] if dense else [seed, number])
    card, sheets = made(str(rng.choice(DENSE_JOINTS if dense else JOINTS)), bool(rng.random() < 0.3))
    least = DENSE_BOXES if dense else 5
    with_ticks = [d for d in card.places if sum(box.kind == "tick" for box in d.boxes) >= least]
    among = list(card.places) if not dense and rng.random() < 0.2 else with_ticks
    data = among[int(rng.integers(len(among)))]
    filled = fill(sheets[data.page - 1], data, rng)
    return filled, age(filled.paper, int(DPIS[number % len(DPIS)]), rng)


def score(filled: Filled, aged: Aged) -> tuple[Score, ScannedPage | None, list[str]]:
    """What one page counts; the reading; what went wrong in words."""
    one, said = Score(pages=1), list[str]()
    asked: list[int] = []

    def known(serial: str, content: str, page: int) -> PageData | None:
        asked.append(page)
        right = (serial, content, page) == (filled.data.serial, filled.data.content, filled.data.page)
        return filled.data if right else None

    start = time.process_time()
    try:
        page = read_picture(Picture("aged.png", 1, aged.picture, None), known=known)
    except ScanError as error:
        one.seconds = time.process_time() - start
        one.identity = len(asked)  # it was known whose page it is
        return one, None, [str(error)]
    one.seconds = time.process_time() - start
    right = (page.serial, page.content, page.page) == (filled.data.serial, filled.data.content, filled.data.page)
    if not right:
        return one, page, [f"read as page {page.page} of {page.serial}"]
    one.identity, one.read, one.places = 1, 1, int(not asked)
    for box in page.boxes:
        left, top, width, height = box.place.rectangle
        there = mapped(aged.matrix, np.array([[left + width / 2, top + height / 2]]))[0]
        here = np.array(box.crop.corners).mean(axis=0)
        one.misplaced.append(float(np.hypot(*(there - here))) / aged.dpi * 25.4)
        if box.kind != "tick":
            continue
        truth, style = filled.truth[box.place], filled.styles.get(box.place, "")
        what = f"{box.place.field} {box.place.fastener}: {truth} {style}, read {box.state}, ink {box.ink:.2f}"
        if box.reason.startswith("part of the box"):
            one.torn_boxes += 1
        elif truth == "struck":
            one.struck += 1
            if box.state != "ambiguous":
                one.struck_missed += 1
                said.append(f"MISSED {what}")
        else:
            one.boxes += 1
            if box.state == "ambiguous":
                one.ambiguous += 1
                one.reasons[box.reason] += 1
                said.append(f"{what}: {box.reason}")
            elif box.state != truth:
                one.wrong += 1
                one.wrong_pages = 1
                said.append(f"WRONG {what}")
    return one, page, said


def report(title: str, of: Score, *, limits: bool = False) -> None:
    boxes, pages = max(1, of.boxes), max(1, of.pages)
    print(
        f"{title:<16} {of.pages:4} pages: identity {of.identity / pages:6.1%}, places from the page itself "
        f"{of.places / pages:6.1%}, {of.boxes} boxes: wrong {1000 * of.wrong / boxes:.2f} per 1,000 ({of.wrong}), "
        f"ambiguous {of.ambiguous / boxes:.2%}, struck out and not seen {of.struck_missed} of {of.struck}, "
        f"{of.seconds / pages:.2f} s of processor a page", flush=True,
    )  # fmt: skip
    if limits and of.boxes:
        most, most_pages = 1000 * bad_share_limit(of.wrong, of.boxes), bad_share_limit(of.wrong_pages, of.pages)
        print(
            f"  wrong with 95 % confidence at most {most:.3f} per 1,000 boxes, were each for itself; a wrong one on "
            f"{of.wrong_pages} pages, at most {most_pages:.2%} of such pages (Clopper-Pearson, one-sided)", flush=True,
        )  # fmt: skip
        bad, whole = of.taken_for_plain
        print(
            f"  with struck-out boxes read as plain: {bad} of {whole}, {1000 * bad / whole:.3f} per 1,000, at most "
            f"{1000 * bad_share_limit(bad, whole):.3f}", flush=True,
        )  # fmt: skip


def scored(task: tuple[int, int, bool]) -> tuple[int, int, Score, list[str]]:
    """(seed, dots per inch, score, what went wrong) of one page: seed, number, dense."""
    seed, number, dense = task
    filled, aged = aged_page(seed, number, dense=dense)
    one, _, said = score(filled, aged)
    page = f"  seed {seed} page {number}, {aged.dpi} dpi, {aged.what}, torn {aged.torn}: "
    return seed, aged.dpi, one, [page + words for words in said]


def all_scored(tasks: Iterable[tuple[int, int, bool]], processes: int) -> Iterator[tuple[int, int, Score, list[str]]]:
    if processes == 1:
        yield from map(scored, tasks)
        return
    with get_context("spawn").Pool(processes, cv2.setNumThreads, (1,)) as pool:
        yield from pool.imap(scored, tasks)


def run(
    seeds: tuple[int, ...] = REPORTED, pages: int = PAGES, *, loud: bool = False, dense: bool = False,
    processes: int = 1,
) -> Score:  # fmt: skip
    whole, by_dpi, by_seed = Score(), {dpi: Score() for dpi in DPIS}, {seed: Score() for seed in seeds}
    tasks = [(seed, number, dense) for seed in seeds for number in range(pages)]
    for seed, dpi, one, said in all_scored(tasks, processes):
        for total in (whole, by_dpi[dpi], by_seed[seed]):
            total.add(one)
        if loud and said:
            print("\n".join(said), flush=True)
        if by_seed[seed].pages == pages:
            report(f"seed {seed}", by_seed[seed], limits=True)
    for dpi, found in by_dpi.items():
        report(f"at {dpi} dpi", found)
    if len(seeds) > 1:
        report("all", whole, limits=True)
    if whole.misplaced:
        far = np.quantile(whole.misplaced, [0.5, 0.99, 1.0])
        print(f"crops lie {far[0]:.2f} mm from their box (median), 99 % within {far[1]:.2f} mm, worst {far[2]:.2f} mm")
    for reason, count in whole.reasons.most_common():
        print(f"  ambiguous {count}: {reason}")
    return whole


def main() -> None:
    asked = argparse.ArgumentParser(description="Reads cards that were filled in and aged with known truth.")
    asked.add_argument("--pages", type=int, default=PAGES)
    asked.add_argument("--seeds", default=",".join(map(str, REPORTED)))
    asked.add_argument("--loud", action="store_true", help="say each box that was not read as the truth")
    asked.add_argument("--dense", action="store_true", help="only pages with large grids: many boxes for little work")
    asked.add_argument("--processes", type=int, default=1)
    given = asked.parse_args()
    seeds = tuple(int(seed) for seed in given.seeds.split(","))
    run(seeds, given.pages, loud=given.loud, dense=given.dense, processes=given.processes)


if __name__ == "__main__":
    main()
