"""The list of slips built into the records, and the table made from it: python -m evenpull.demo.truth FILE."""

from __future__ import annotations

import sys
import tomllib
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from evenpull.demo import scenario

Expected = tuple[str, int | None, int | None, bool]  # flag code, fastener, pass, blocking

HEAD = """# Slips built into the demo

The records of the scenario "Kestrel Narrows" are invented, and these slips are built into them on purpose. `make demo`
has to find them all and nothing else: a test runs the whole demo and compares every flag of every joint with this
list. The list itself is `src/evenpull/demo/kestrel_narrows/truth.toml`; this page is made from it with
`python -m evenpull.demo.truth docs/demo-truth.md`, and the same test keeps the two equal.

"stops" means: the joint cannot be released until somebody decides or the work is done again. "note" means: shown, but
it stops nothing.
"""


@dataclass(frozen=True)
class Slip:
    """One thing that is wrong: where it is, what happened, and the flags that it must raise on its joint."""

    joint: str
    file: str
    where: str
    what: str
    flags: tuple[Expected, ...]
    seen: str  # what is to be seen besides flags: an unread row, a repeated record, an unknown joint


@dataclass(frozen=True)
class Outcome:
    """How a joint ends in the story."""

    joint: str
    state: str
    records: int
    unread: int
    repeated: int
    why: str


@dataclass(frozen=True)
class Truth:
    slips: tuple[Slip, ...]
    outcomes: tuple[Outcome, ...]

    def flags_of(self, joint: str) -> Counter[Expected]:
        """All flags that the joint must have, each as often as it must come."""
        return Counter(flag for slip in self.slips if slip.joint == joint for flag in slip.flags)


def _flags(entry: dict[str, Any]) -> list[Expected]:
    """One flag, `times` alike, or one for each place of a block: `fasteners` 1 ... n times `passes` 1 ... m."""
    code, stops = entry["code"], entry["stops"]
    if "fasteners" in entry:
        numbers, passes = range(1, entry["fasteners"] + 1), range(1, entry["passes"] + 1)
        return [(code, number, one, stops) for number in numbers for one in passes]
    return [(code, entry.get("fastener"), entry.get("pass"), stops)] * entry.get("times", 1)


def read_truth() -> Truth:
    """The list as it stands in truth.toml."""
    data = tomllib.loads(scenario.truth_text())
    slips = tuple(
        Slip(
            s["joint"],
            s.get("file", ""),
            s["where"],
            s["what"],
            tuple(flag for entry in s["flags"] for flag in _flags(entry)),
            s.get("seen", ""),
        )
        for s in data["slip"]
    )
    outcomes = tuple(
        Outcome(o["id"], o["state"], o["records"], o.get("unread", 0), o.get("repeated", 0), o["why"])
        for o in data["joint"]
    )
    return Truth(slips, outcomes)


def _shown(flag: Expected) -> str:
    code, fastener, number, stops = flag
    place = ", ".join(
        f"{what} {value}" for what, value in (("number", fastener), ("pass", number)) if value is not None
    )
    return f"{code}{f' ({place})' if place else ''}: {'stops' if stops else 'note'}"


def _shown_all(flags: tuple[Expected, ...]) -> list[str]:
    """Each flag in words; a whole block of missing places in one."""
    missing = [flag for flag in flags if flag[0] == "missing"]
    if len(missing) <= 4:
        return [_shown(flag) + (f" ({count} times)" if count > 1 else "") for flag, count in Counter(flags).items()]
    others = dict.fromkeys(_shown(flag) for flag in flags if flag[0] != "missing")
    return [*others, f"missing: all {len(missing)} places: stops"]


def as_markdown(truth: Truth) -> str:
    """docs/demo-truth.md."""
    lines = [HEAD, "## Slips", "", "| no. | joint | file | where | what happened | found as |", "|" + " --- |" * 6]
    for number, slip in enumerate(truth.slips, start=1):
        found = "; ".join([*_shown_all(slip.flags), *filter(None, [slip.seen])])
        lines.append(f"| {number} | {slip.joint} | {slip.file or '–'} | {slip.where} | {slip.what} | {found} |")
    lines += ["", "## How each joint ends", "", "| joint | state | records | rows unread | came again | why |"]
    lines.append("|" + " --- |" * 6)
    for o in truth.outcomes:
        lines.append(f"| {o.joint} | {o.state} | {o.records} | {o.unread} | {o.repeated} | {o.why} |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("one file is needed: python -m evenpull.demo.truth docs/demo-truth.md")
    Path(sys.argv[1]).write_text(as_markdown(read_truth()), encoding="utf-8")
