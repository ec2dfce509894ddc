"""One procedure of a ring as the page shows it: picture after one pull, and what the slider needs for all pulls."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import Http404
from django.utils.safestring import SafeString, mark_safe

from evenpull.prediction import ProcedureOutcome
from evenpull.report.ring_svg import Numbering, frame_of, loads_after, pull_words, ring_svg
from evenpull.ring.case import RingCase


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """`key` a or b; `number` of the procedure; `data` for the slider: loads in 1/1000 of the target after each pull."""

    key: str
    number: int
    outcome: ProcedureOutcome
    pull: int
    svg: SafeString
    said: str
    loads: list[tuple[int, str, str]]
    data: dict[str, Any]

    @property
    def last(self) -> int:
        return len(self.outcome.loads)

    @property
    def before(self) -> int:
        return max(self.pull - 1, 0)

    @property
    def after(self) -> int:
        return min(self.pull + 1, self.last)


def side_of(
    case: RingCase, outcome: ProcedureOutcome, number: int, key: str, asked: int | None, numbering: Numbering,
    top: float,
) -> Side:  # fmt: skip
    """The state after pull `asked` (the last one when None); 404 when the procedure has no such pull."""
    last = len(outcome.loads)
    pull = last if asked is None else asked
    if not 0 <= pull <= last:
        raise Http404(f"“{outcome.procedure.name}” has the pulls 1 to {last} (0: before the first), not {pull}")
    loads = loads_after(outcome, pull)
    target, frame = outcome.target, frame_of(len(loads))
    data = {
        "top": round(top, 6), "reach": frame.high - frame.low, "target": target,
        "loads": [(1000 * loads_after(outcome, n) / target).round().astype(int).tolist() for n in range(last + 1)],
        "bolts": [[], *(list(made.bolts) for made in outcome.procedure.pulls)],
        "said": [pull_words(outcome, n) for n in range(last + 1)],
    }  # fmt: skip
    shown = [(bolt, f"{load / 1e3:.1f} kN", f"{100 * load / target:.1f} %") for bolt, load in enumerate(loads, start=1)]
    # The drawing escapes every text it takes in.
    svg = mark_safe(ring_svg(case, outcome, pull, numbering, top))
    return Side(key, number, outcome, pull, svg, pull_words(outcome, pull), shown, data)
