"""Reading back aged cards: python -m bench.cards [--pages N] [--seeds A,B] [--loud].

Truth is known, because the bench fills the cards in itself. Nothing is asserted here; docs/scan.md holds a run.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cache

import numpy as np

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
CALIBRATED_ON = (1, 2, 3)  # the limits of evenpull.scan.ticks were set on these seeds
REPORTED = (201, 202)  # and are reported on others


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
    seconds: float = 0.0
    misplaced: list[float] = field(default_factory=list)
    reasons: Counter[str] = field(default_factory=Counter)

    def add(self, other: Score) -> None:
        for name in self.__dataclass_fields__:
            mine = getattr(self, name)
            if isinstance(mine, Counter):
                mine.update(getattr(other, name))
            else:
                setattr(self, name, mine + getattr(other, name))


@cache
def made(joint: str, letter: bool) -> tuple[CardPDF, list[np.ndarray]]:
    """The card of a joint of the scenario, and its pages."""
    issued, until = datetime(2026, 3, 18, 6, 30, tzinfo=UTC), datetime(2026, 3, 20, 6, 30, tzinfo=UTC)
    spec = read_specification(scenario.joint_text(joint), joint)
    tools = [tool for tool in read_tools(scenario.tools_text(), "tools") if tool.serial in spec.tools_allowed]
    card = make_card(
        make_plan(spec, tuple(tools), issued.date()), serial=make_serial(spec.id, 7), issued_at=issued,
        valid_until=until, paper="us-letter" if letter else "a4",
    )  # fmt: skip
    return card, rendered(card.pdf)


def aged_pages(seed: int, pages: int) -> Iterator[tuple[Filled, Aged]]:
    """Pages of cards of several sizes on both papers, each filled and aged in its own way. Four of five have many boxes
    to tick, the fifth is any page of a card."""
    for number in range(pages):
        rng = np.random.default_rng([seed, number])
        card, sheets = made(str(rng.choice(JOINTS)), bool(rng.random() < 0.3))
        with_ticks = [d for d in card.places if sum(box.kind == "tick" for box in d.boxes) > 4]
        among = list(card.places) if rng.random() < 0.2 else with_ticks
        data = among[int(rng.integers(len(among)))]
        filled = fill(sheets[data.page - 1], data, rng)
        yield filled, age(filled.paper, int(DPIS[number % len(DPIS)]), rng)


def score(filled: Filled, aged: Aged) -> tuple[Score, ScannedPage | None, list[str]]:
    """What one page counts; the reading; what went wrong in words."""
    one, said = Score(pages=1), list[str]()
    asked: list[int] = []

    def known(serial: str, content: str, page: int) -> PageData | None:
        asked.append(page)
        right = (serial, content, page) == (filled.data.serial, filled.data.content, filled.data.page)
        return filled.data if right else None

    start = time.perf_counter()
    try:
        page = read_picture(Picture("aged.png", 1, aged.picture, None), known=known)
    except ScanError as error:
        one.seconds = time.perf_counter() - start
        one.identity = len(asked)  # it was known whose page it is
        return one, None, [str(error)]
    one.seconds = time.perf_counter() - start
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
                said.append(f"WRONG {what}")
    return one, page, said


def report(title: str, of: Score) -> None:
    boxes, pages = max(1, of.boxes), max(1, of.pages)
    print(
        f"{title:<16} {of.pages:4} pages: identity {of.identity / pages:6.1%}, places from the page itself "
        f"{of.places / pages:6.1%}, {of.boxes} boxes: wrong {1000 * of.wrong / boxes:.2f} per 1,000 ({of.wrong}), "
        f"ambiguous {of.ambiguous / boxes:.2%}, struck out and not seen {of.struck_missed} of {of.struck}, "
        f"{of.seconds / pages:.2f} s a page"
    )


def run(seeds: tuple[int, ...] = REPORTED, pages: int = PAGES, *, loud: bool = False) -> Score:
    whole, by_dpi = Score(), {dpi: Score() for dpi in DPIS}
    for seed in seeds:
        of_seed = Score()
        for number, (filled, aged) in enumerate(aged_pages(seed, pages)):
            one, _, said = score(filled, aged)
            of_seed.add(one)
            by_dpi[aged.dpi].add(one)
            if loud:
                for words in said:
                    print(f"  seed {seed} page {number}, {aged.dpi} dpi, {aged.what}, torn {aged.torn}: {words}")
        report(f"seed {seed}", of_seed)
        whole.add(of_seed)
    for dpi, found in by_dpi.items():
        report(f"at {dpi} dpi", found)
    if len(seeds) > 1:
        report("all", whole)
    if whole.boxes:
        most = 1000 * bad_share_limit(whole.wrong, whole.boxes)
        print(f"wrong ticks: {whole.wrong} of {whole.boxes}; with 95 % confidence at most {most:.2f} per 1,000")
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
    given = asked.parse_args()
    run(tuple(int(seed) for seed in given.seeds.split(",")), given.pages, loud=given.loud)


if __name__ == "__main__":
    main()
