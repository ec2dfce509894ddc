"""Records typed in by a person, from a card or from memory: checked field by field, then written as a file of our own.

The file is kept like any other raw file and goes through the same reader, under `KEYED_MAPPING`. Texts stay as typed;
beside date, time and zone stands the moment that follows from them, with its offset from UTC.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from typing import get_args

from pydantic_core import PydanticCustomError

from evenpull.intake.limits import MAX_FASTENER, MAX_WHOLE
from evenpull.intake.numbers import NumberError, NumberForm, whole_number
from evenpull.intake.record import EventType, IntakeError
from evenpull.intake.sources import tidy
from evenpull.intake.times import FIRST_YEAR, LAST_YEAR, zone_named
from evenpull.plan.values import line_text
from evenpull.quantities import UnitError, canonical_unit, units_for

EVENTS: tuple[EventType, ...] = get_args(EventType)
KNOWN_BY = ("did it", "saw it", "was told", "from paper", "from a device")
MOST_KEYED = 5_000  # rows typed in at once
MOST_NUMBER = 1e9
MOMENT = "moment"  # the column that the program adds
_LOOSENING = ("loosen", "remove")
_UNKNOWN = ("unstated", "residual check")  # a residual check may turn either way
_OFFSET = re.compile(r"([+-])([01][0-9]):([0-5][0-9])")
_TIME = re.compile(r"([0-9]{2}):([0-9]{2})(?::([0-9]{2}))?", re.ASCII)


@dataclass(frozen=True)
class KeyedField:
    """One column. `needed`: an empty cell is a fault; `allowed` is said with every fault."""

    name: str
    meaning: str
    allowed: str
    check: Callable[[str], str]  # what is wrong with a tidied, filled cell; "" when nothing is
    needed: bool = False


@dataclass(frozen=True)
class KeyedFault:
    """`row` counts from 1 in the order given; 0 is the sheet as a whole."""

    row: int
    field: str
    message: str
    allowed: str

    def __str__(self) -> str:
        place = f"row {self.row}, {self.field}" if self.row else self.field
        return f"{place}: {self.message}" + (f"; allowed: {self.allowed}" if self.allowed else "")


class KeyedError(IntakeError):
    """Rows that cannot be kept; nothing was written. `faults` holds all of them."""

    def __init__(self, faults: Sequence[KeyedFault]) -> None:
        self.faults = tuple(faults)
        first = self.faults[0]
        super().__init__("keyed", "typed records", "\n".join(map(str, self.faults)), line=first.row or None,
                         field=first.field)


def _any(text: str) -> str:
    return ""


def _whole(least: int, most: int) -> Callable[[str], str]:
    def check(text: str) -> str:
        number = whole_number(text)
        return "" if number is not None and least <= number <= most else f"{text[:60]!r} is not such a number"

    return check


def _one_of(words: Sequence[str]) -> Callable[[str], str]:
    return lambda text: "" if text in words else f"{text[:60]!r} is none of these"


def _number(text: str) -> str:
    try:
        number = NumberForm(".", None).read(text)
    except NumberError as error:
        return str(error)
    if number < 0:
        return f"{text[:60]!r} is less than zero"
    return f"{text[:60]!r} is more than any tool shows" if number > MOST_NUMBER else ""


def _unit(text: str) -> str:
    try:
        canonical_unit(text, "torque")
    except UnitError as error:
        return error.reason
    return ""


def _day(text: str) -> str:
    try:
        found = date.fromisoformat(text) if len(text) == 10 else None
    except ValueError:
        found = None
    return "" if found is not None and FIRST_YEAR <= found.year <= LAST_YEAR else f"{text[:60]!r} is no such day"


def _clock_time(text: str) -> str:
    return "" if _time_of(text) is not None else f"{text[:60]!r} is no such time"


def _time_of(text: str) -> time | None:
    found = _TIME.fullmatch(text)
    if found is None or int(found[1]) > 23 or int(found[2]) > 59 or int(found[3] or 0) > 59:
        return None
    return time(int(found[1]), int(found[2]), int(found[3] or 0))


def _zone_of(text: str) -> tzinfo | None:
    found = _OFFSET.fullmatch(text)
    if found is None:
        return zone_named(text)
    away = timedelta(hours=int(found[2]), minutes=int(found[3]))
    return timezone(-away if found[1] == "-" else away)


def _zone(text: str) -> str:
    return "" if _zone_of(text) is not None else f"{text[:60]!r} is no time zone"


_F = KeyedField
KEYED_FIELDS = (
    _F("joint", "id of the joint", "text", _any, True),
    _F("unit", "of a series: which unit", "text", _any),
    _F("fastener", "number of the fastener", f"1 to {MAX_FASTENER}", _whole(1, MAX_FASTENER), True),
    _F("pass", "number of the pass", "1 to 99", _whole(1, 99)),
    _F("event", "what kind of event", ", ".join(EVENTS), _one_of(EVENTS), True),
    _F("torque", "torque as it stands on the card", "a number such as 90.5, with a decimal point", _number),
    _F("torque unit", "its unit", ", ".join(units_for("torque")), _unit),
    _F("angle", "angle in degrees", "a number such as 28.5, with a decimal point", _number),
    _F("tool", "serial of the tool", "text", _any),
    _F("counter", "running number shown by the tool", f"0 to {MAX_WHOLE}", _whole(0, MAX_WHOLE)),
    _F("operator", "who worked", "name", _any, True),
    _F("date", "day on which it was done", "YYYY-MM-DD", _day),
    _F("time", "time of day at which it was done", "HH:MM or HH:MM:SS, 24 hours", _clock_time),
    _F("zone", "zone of that clock", "a zone of the IANA database such as Europe/London, or an offset such as +01:00",
       _zone),
    _F("card serial", "serial of the card", "text", _any),
    _F("card line", "line on the card, counted from the top of the sheet of its pass", "1 to 9999", _whole(1, 9999)),
    _F("keyed by", "who typed it in", "name", _any, True),
    _F("basis", "how the writer knows", ", ".join(KNOWN_BY), _one_of(KNOWN_BY), True),
    _F("why late", "why it was not written down when it was done", "text", _any),
)
# Of records keyed from a scan by two people (evenpull.paper); not to be typed by anybody.
SCANNED_FIELDS = (
    _F("page image", "SHA-256 of the scan, its picture, and the box as left, top, right, bottom", "text", _any, True),
    _F("keyed again by", "who keyed it a second time, blind to the first", "name", _any, True),
    _F("resolved by", "who decided where the two differed", "name", _any),
)
_BY_NAME = {field.name: field for field in KEYED_FIELDS}
_ALL = _BY_NAME | {field.name: field for field in SCANNED_FIELDS}
COLUMNS = (*_BY_NAME, MOMENT)


def _direction(event: str) -> str:
    return "loosen" if event in _LOOSENING else "unknown" if event in _UNKNOWN else "tighten"


KEYED_MAPPING = """form = "evenpull mapping 1"
name = "typed records"

[file]
kind = "csv"
encoding = "utf-8"
delimiter = ","
decimal = "."

[time]
column = "moment"
format = "%Y-%m-%dT%H:%M:%S%z"

[columns]
joint = "joint"
unit = "unit"
fastener = "fastener"
pass = "pass"
event = "event"
tool = "tool"
counter = "counter"
operator = "operator"
direction = { column = "event", map = { @ } }

[torque]
column = "torque"
unit_column = "torque unit"

[angle]
column = "angle"
unit = "deg"
""".replace("@", ", ".join(f'"{event}" = "{_direction(event)}"' for event in EVENTS)) + "".join(
    f'\n[[particular]]\nname = "{name}"\ncolumn = "{column}"\n'
    for name, column in (("card", "card serial"), ("card_line", "card line"), ("keyed_by", "keyed by"),
                         ("late_basis", "basis"), ("late_reason", "why late"))
)  # fmt: skip
SCANNED_MAPPING = KEYED_MAPPING.replace('"typed records"', '"keyed from scans"', 1) + "".join(
    f'\n[[particular]]\nname = "{field.name.replace(" ", "_")}"\ncolumn = "{field.name}"\n' for field in SCANNED_FIELDS
)


def keyed_file(
    rows: Sequence[Mapping[str, str]], *, now: datetime | None = None, scanned: bool = False
) -> bytes:
    """The bytes of a CSV file (UTF-8) that holds these rows; keys are the names of `KEYED_FIELDS`, others are refused.

    `now` (aware) refuses moments after it. `scanned`: the rows come from a scan and have `SCANNED_FIELDS` too; they are
    read under `SCANNED_MAPPING`. Raises KeyedError with every fault; then nothing may be written.
    """
    names = _ALL if scanned else _BY_NAME
    if not 1 <= len(rows) <= MOST_KEYED:
        raise KeyedError([KeyedFault(0, "rows", f"{len(rows)} rows were typed in", f"1 to {MOST_KEYED}")])
    faults: list[KeyedFault] = []
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([*names, MOMENT])
    for number, row in enumerate(rows, 1):
        cells, wrong = _checked(number, row, now, names)
        faults += wrong
        writer.writerow([*(cells.get(name, "") for name in names), "" if wrong else _moment(cells)])
    faults += _twice(rows)
    if faults:
        raise KeyedError(sorted(faults, key=lambda fault: fault.row))
    return out.getvalue().encode("utf-8")


def _checked(
    number: int, row: Mapping[str, str], now: datetime | None, names: Mapping[str, KeyedField]
) -> tuple[dict[str, str], list[KeyedFault]]:
    cells: dict[str, str] = {}
    faults: list[KeyedFault] = []
    for name, given in row.items():
        field = names.get(name)
        if field is None:
            faults.append(KeyedFault(number, name[:60], "there is no such column", ", ".join(names)))
            continue
        try:
            text = tidy(line_text(given, empty=True))
        except PydanticCustomError as error:
            faults.append(KeyedFault(number, name, str(error), field.allowed))
            continue
        cells[name] = text
        if text and (wrong := field.check(text)):
            faults.append(KeyedFault(number, name, wrong, field.allowed))
    broken = {fault.field for fault in faults}
    faults += [
        KeyedFault(number, field.name, "nothing is stated", field.allowed)
        for field in names.values()
        if field.needed and not cells.get(field.name) and field.name not in broken
    ]
    if not faults:
        faults = _together(number, cells, now)
    return cells, faults


def _together(number: int, cells: Mapping[str, str], now: datetime | None) -> list[KeyedFault]:
    """What several fields say together."""
    def has(name: str) -> bool:
        return bool(cells.get(name))

    def fault(name: str, message: str) -> None:
        found.append(KeyedFault(number, name, message, _BY_NAME[name].allowed))

    found: list[KeyedFault] = []
    if has("torque") != has("torque unit"):
        fault("torque unit" if has("torque") else "torque", "torque and unit are stated together or not at all")
    if has("card serial") != has("card line"):
        fault("card line" if has("card serial") else "card serial", "card and line are stated together or not at all")
    elif cells["basis"] == "from paper" and not has("card serial"):
        fault("card serial", "it is known from paper, and no card is named")
    if has("counter") and not has("tool"):
        fault("tool", "a counter is a number of one tool, and none is named")
    if cells["basis"] != "from paper" and not has("why late"):
        fault("why late", "it does not come from a card that was written at the time: say why it comes only now")
    if has("time") and not has("date"):
        fault("date", "a time of day without its day")
    elif has("time") != has("zone"):
        fault("zone" if has("time") else "time", "time of day and zone of the clock are stated together")
    elif has("time"):
        wrong = _misplaced(cells)
        moment = "" if wrong else _moment(cells)
        if wrong:
            fault("time", wrong)
        elif now is not None and datetime.fromisoformat(moment) > now:
            fault("date", f"{moment} lies after now, {now.astimezone(UTC).isoformat(timespec='minutes')}")
    elif has("date") and now is not None and date.fromisoformat(cells["date"]) > (now + timedelta(days=1)).date():
        fault("date", "the day lies in the future")
    return found


def _local(cells: Mapping[str, str]) -> datetime:
    clock, zone = _time_of(cells["time"]), _zone_of(cells["zone"])
    if clock is None or zone is None:
        raise AssertionError("a time that was checked")
    return datetime.combine(date.fromisoformat(cells["date"]), clock, zone)


def _misplaced(cells: Mapping[str, str]) -> str:
    """Why the zone's clock does not settle the moment; "" when it does."""
    local = _local(cells)
    if local.utcoffset() == local.replace(fold=1).utcoffset():
        return ""
    if local.astimezone(UTC).astimezone(local.tzinfo).replace(tzinfo=None) != local.replace(tzinfo=None):
        return f"there was no {cells['time']} on that day in {cells['zone']}: the clocks went forward"
    first, second = (local.replace(fold=fold).isoformat()[-6:] for fold in (0, 1))
    return (f"{cells['time']} occurred twice on that day in {cells['zone']}: the clocks went back; write {first} or "
            f"{second} as the zone")


def _moment(cells: Mapping[str, str]) -> str:
    """Day and time with the offset from UTC; the day alone, or nothing, where no more is stated."""
    return _local(cells).isoformat(timespec="seconds") if cells.get("time") else cells.get("date", "")


def _plain(name: str, text: str) -> str:
    """As it names a line or a reading: 012 is 12, and serials of cards are the same in whatever capitals."""
    if name == "card serial":
        return text.upper()
    number = None if name == "tool" else whole_number(text)
    return text if number is None else str(number)


def _twice(rows: Sequence[Mapping[str, str]]) -> list[KeyedFault]:
    faults = []
    for last, names in (("card line", ("card serial", "pass", "card line")), ("counter", ("tool", "counter"))):
        seen: dict[tuple[str, ...], int] = {}
        for number, row in enumerate(rows, 1):
            key = tuple(_plain(name, tidy(str(row.get(name, "")))) for name in names)
            if not all(one for one, name in zip(key, names, strict=True) if name != "pass"):
                continue
            if key in seen:
                said = f"{names[0]} {key[0]}, {last} {key[-1]} stands in row {seen[key]} too"
                faults.append(KeyedFault(number, last, said, "each only once"))
            seen.setdefault(key, number)
    return faults
