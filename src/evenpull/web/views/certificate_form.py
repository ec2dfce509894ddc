"""The form of a typed certificate: what was filled in, the text it makes, and its faults beside the fields."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from evenpull.equipment import Holdings
from evenpull.equipment.certificate_schema import ISO_6789_SYMBOLS, RULE_NAMES
from evenpull.equipment.write import form_text, value_written
from evenpull.instrument.budget import DIVISORS
from evenpull.instrument.certificate import DIRECTIONS, STAGES
from evenpull.plan.errors import Fault

MOST_ROWS = 200
HEAD = (
    "serial", "number", "calibrated", "valid_from", "valid_until", "laboratory", "by", "standards", "replaces", "unit",
    "permissible", "rule", "guard", "k", "adjusted", "counter", "conditions", "note",
)  # fmt: skip
POINT = ("stage", "direction", "nominal", "indicated", "reference", "uncertainty", "readings")
TOLD = ("indicated", "reference", "uncertainty", "readings")  # a row with none of these says nothing
CONTRIBUTION = ("symbol", "name", "value", "distribution", "degrees")
LIMIT = ("range", "reason")
INTERVAL = ("months", "cycles", "source")
BUDGET = ("resolution", "b_rep", "b_od", "b_int", "b_l", "W_md", "b_ep")
FORMS: dict[str, tuple[str, ...]] = {
    "rule": RULE_NAMES, "stage": STAGES, "direction": DIRECTIONS, "distribution": tuple(DIVISORS),
    "symbol": tuple(ISO_6789_SYMBOLS),
}
Row = dict[str, str]


@dataclass
class Form:
    """`errors`: field of the page ("head.number", "point.3.nominal") -> what is wrong there."""

    head: Row
    points: list[Row]
    contributions: list[Row]
    limits: list[Row]
    interval: Row
    budget: Row
    errors: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))
    other: list[str] = field(default_factory=list)

    @property
    def kept(self) -> list[int]:
        """The rows of points that say something, by their place on the page."""
        return [at for at, row in enumerate(self.points) if any(row.get(name, "").strip() for name in TOLD)]

    @property
    def text(self) -> str:
        points = [self.points[at] for at in self.kept]
        return form_text(self.head, points, self.contributions, self.limits, self.interval, self.budget)

    def longer(self) -> Form:
        """With six more rows of points, of the last row's stage and direction."""
        last = self.points[-1] if self.points else {"stage": "as found", "direction": "clockwise"}
        more = min(6, max(0, MOST_ROWS - len(self.points)))
        self.points += [{"stage": last.get("stage", ""), "direction": last.get("direction", "")} for _ in range(more)]
        return self

    def told(self, faults: Iterable[Fault]) -> None:
        """Put each fault where it belongs; what belongs to no field of the page stands above it."""
        kept = self.kept
        filled = [at for at, row in enumerate(self.contributions) if any(v.strip() for v in row.values())]
        limits = [at for at, row in enumerate(self.limits) if any(v.strip() for v in row.values())]
        for fault in faults:
            said = fault.message + (f"; allowed: {fault.allowed}" if fault.allowed else "")
            parts = fault.field.split(".")[2:]  # behind "certificate.0"
            if len(parts) == 1 and parts[0] in HEAD:
                self.errors[f"head.{parts[0]}"].append(said)
            elif parts[:1] == ["interval"] and len(parts) == 2:
                self.errors[f"interval.{parts[1]}"].append(said)
            elif len(parts) == 3 and parts[0] == "point" and parts[2] in BUDGET:
                if said not in self.errors[f"budget.{parts[2]}"]:
                    self.errors[f"budget.{parts[2]}"].append(said)
            elif len(parts) == 3 and parts[0] == "point" and int(parts[1]) < len(kept):
                self.errors[f"point.{kept[int(parts[1])]}"].append(f"{parts[2]}: {said}")
            elif len(parts) == 3 and parts[0] == "contribution" and int(parts[1]) < len(filled):
                self.errors[f"contribution.{filled[int(parts[1])]}"].append(f"{parts[2]}: {said}")
            elif len(parts) == 3 and parts[0] == "limit" and int(parts[1]) < len(limits):
                self.errors[f"limit.{limits[int(parts[1])]}"].append(f"{parts[2]}: {said}")
            else:
                self.other.append(str(fault))

    @property
    def heads(self) -> dict[str, tuple[str, list[str]]]:
        """Field of the head -> what stands there, and its faults."""
        return {name: (self.head.get(name, ""), self.errors.get(f"head.{name}", [])) for name in HEAD}

    @property
    def budgets(self) -> dict[str, tuple[str, list[str]]]:
        return {name: (self.budget.get(name, ""), self.errors.get(f"budget.{name}", [])) for name in BUDGET}

    @property
    def intervals(self) -> dict[str, tuple[str, list[str]]]:
        return {name: (self.interval.get(name, ""), self.errors.get(f"interval.{name}", [])) for name in INTERVAL}

    @property
    def numbered(self) -> list[tuple[int, Row, list[str]]]:
        return [(at, row, self.errors.get(f"point.{at}", [])) for at, row in enumerate(self.points)]

    @property
    def budget_rows(self) -> list[tuple[int, Row, list[str]]]:
        return [(at, row, self.errors.get(f"contribution.{at}", [])) for at, row in enumerate(self.contributions)]

    @property
    def limit_rows(self) -> list[tuple[int, Row, list[str]]]:
        return [(at, row, self.errors.get(f"limit.{at}", [])) for at, row in enumerate(self.limits)]


def filled(post: Mapping[str, str]) -> Form:
    """What a page sent. Rows are counted up to the first number of which nothing came."""
    return Form(
        {name: post.get(f"head.{name}", "") for name in HEAD}, _rows(post, "point", POINT),
        _rows(post, "contribution", CONTRIBUTION), _rows(post, "limit", LIMIT),
        {name: post.get(f"interval.{name}", "") for name in INTERVAL},
        {name: post.get(f"budget.{name}", "") for name in BUDGET},
    )


def _rows(post: Mapping[str, str], name: str, fields: tuple[str, ...]) -> list[Row]:
    found: list[Row] = []
    for at in range(MOST_ROWS):
        if not any(f"{name}.{at}.{one}" in post for one in fields):
            break
        found.append({one: post.get(f"{name}.{at}.{one}", "") for one in fields})
    return found


def first_rows(held: Holdings, serial: str) -> Form:
    """An empty form; of a known item with its unit, what it was judged by last time, and rows at the ends and at 60 %
    of its scale (from memory, as ISO 6789-2 asks of hand tools), as found and as left in each of its directions."""
    item = held.items.get(serial)
    head = {"serial": serial, "rule": RULE_NAMES[0], "k": "2"}
    values: list[str] = ["", "", ""]
    directions: tuple[str, ...] = ("clockwise",)
    if item is not None:
        head["unit"] = item.unit or "N.m"
        if item.permissible is not None:
            head["permissible"] = f"{100 * item.permissible:g}"
        directions = item.directions
        if item.scale is not None and item.quantity is not None:
            lower, upper = item.scale.lower, item.scale.upper
            at = (lower or 0.2 * upper, 0.6 * upper, upper)
            values = [f"{value_written(v, item.unit, item.quantity):.6g}" for v in at]
        last = held.calibrations.get(serial, ())
        if last and last[-1].certificate.points:
            head["rule"] = last[-1].rule.name if last[-1].rule.name in RULE_NAMES else RULE_NAMES[-1]
            head["laboratory"] = last[-1].laboratory
    points = [{"stage": stage, "direction": direction, "nominal": value}
              for stage in STAGES for direction in directions for value in values]
    return Form(head, points, [{} for _ in range(8)], [{}, {}], {}, {})
