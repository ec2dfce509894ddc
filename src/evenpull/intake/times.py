"""Times as tools write them: local wall clock in a named zone, read into UTC, with every doubt said.

Nothing is repaired. A time that cannot be told for certain keeps its text and gets a doubt:

- no such date, or no date at all: no UTC time; the record stays, because the pull happened;
- a local time that does not exist (clocks went forward): no UTC time;
- a local time that occurred twice (clocks went back): the earlier of the two instants, and the doubt names both.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

NUMBER_FORMATS = ("spreadsheet days", "unix seconds", "unix milliseconds")
DIRECTIVES = "dmbBYyjHIMSfpz"
FIRST_YEAR, LAST_YEAR = 1970, 2100
_DIRECTIVE = re.compile(r"%(.)", re.DOTALL)
_NUMBER = re.compile(r"-?[0-9]{1,15}(?:[.,][0-9]{1,9})?")
_ISO = "%Y-%m-%d %H:%M:%S"
_ISO_TEXT = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2} [0-9]{2}:[0-9]{2}:[0-9]{2}", re.ASCII)
_SERIAL_ZERO = datetime(1899, 12, 30)  # day 0 of the spreadsheet count from 1900 on (right from 1 March 1900)


def zone_named(name: str) -> ZoneInfo | None:
    """The time zone, None when the IANA database has none of that name."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):  # OSError: the name of a folder of the database
        return None


def format_fault(text: str) -> str:
    """What is wrong with a time format, "" when nothing is."""
    if text in NUMBER_FORMATS:
        return ""
    found = [name for name in _DIRECTIVE.findall(text) if name != "%"]
    if not found:
        return "it holds no %-directive such as %Y"
    if unknown := [name for name in found if name not in DIRECTIVES]:
        return f"%{unknown[0]} is not understood here"
    if text.count("%") != len(_DIRECTIVE.findall(text)) + text.count("%%"):
        return "it ends with a lone %"
    if doubled := [name for name in found if found.count(name) > 1]:
        return f"%{doubled[0]} stands in it more than once"
    has = set(found)
    if not has & {"Y", "y"} or not (has & {"j"} or (has & {"d"} and has & {"m", "b", "B"})):
        return "year, month and day are not all in it"
    for pair in (("Y", "y"), ("H", "I"), ("m", "b"), ("m", "B"), ("b", "B")):
        if has >= set(pair):
            return f"%{pair[0]} and %{pair[1]} stand for the same"
    if "I" in has and "p" not in has:
        return "%I counts to twelve and needs %p (AM, PM)"
    if "p" in has and "I" not in has:
        return "%p (AM, PM) needs %I instead of %H"
    return ""


def has_offset(text: str) -> bool:
    """The format says itself how far the time is from UTC."""
    return text.startswith("unix ") or "z" in _DIRECTIVE.findall(text)


def has_time_of_day(text: str) -> bool:
    """The format holds more than the day."""
    return text in NUMBER_FORMATS or bool({"H", "I"} & set(_DIRECTIVE.findall(text)))


def split_format(text: str) -> tuple[str, str]:
    """The part for the day and the part for the time of day of a format for two columns; one is "" if not separable."""
    for found in _DIRECTIVE.finditer(text):
        if found[1] in "HI":
            return text[: found.start()].strip(), text[found.start():].strip()
    return text.strip(), ""


@dataclass(frozen=True)
class ReadTime:
    """`utc` aware or None; `text` as written; `doubt` says why the time is not certain, "" when it is."""

    utc: datetime | None
    text: str
    doubt: str


class Clock:
    """Reads the times of one file. `zone` is None only when the format carries its own offset."""

    def __init__(self, form: str, zone: ZoneInfo | None, *, two_columns: bool = False) -> None:
        self.form, self.zone = form, zone
        self.basis = zone.key if zone is not None else ("UTC" if form.startswith("unix ") else "offset in the text")
        self.day_form, self.hour_form = split_format(form) if two_columns else ("", "")
        self.day_only = not has_time_of_day(form)
        self._untyped: list[object] = [None, None] if two_columns else [None]
        self._is_utc = zone is not None and zone.key == "UTC"  # no clocks went forward or back there

    def read(self, texts: list[str], values: list[object]) -> ReadTime:
        """`texts`: one or two cells, trimmed; `values`: the same as a spreadsheet holds them, None where it is text."""
        text = texts[0] if len(texts) == 1 else " ".join(part for part in texts if part)
        if not text or not all(texts):
            return ReadTime(None, text, "no time is stated" if not text else "only a part of the time is stated")
        typed = values != self._untyped and any(
            isinstance(value, date | time | timedelta | int | float) for value in values
        )
        try:
            if typed:
                found = self._typed(texts, values)
            elif self.form in NUMBER_FORMATS:
                found = self._counted(texts[0])
            elif self.form == _ISO and _ISO_TEXT.fullmatch(text):
                found = datetime.fromisoformat(text)  # the same, ten times as fast
            else:
                found = datetime.strptime(text, self.form)
        except _DoubtError as doubt:
            return ReadTime(None, text, str(doubt))
        except (ValueError, OverflowError):
            return ReadTime(None, text, self._misfit(text))
        return self._placed(found, text)

    def _misfit(self, text: str) -> str:
        shown = repr(text[:60])
        if self.form not in NUMBER_FORMATS:
            pattern = re.sub(r"%[dmyHIMS]", r"[0-9]{1,2}", re.escape(self.form).replace("%Y", "[0-9]{4}"))
            if re.fullmatch(pattern.replace("%p", "[AaPp][Mm]"), text):
                return f"{shown}: there is no such date or time"
        return f"{shown} is not a time of the form {self.form!r}"

    def _counted(self, text: str) -> datetime:
        if _NUMBER.fullmatch(text) is None:
            raise ValueError(text)
        return self._from_number(float(text.replace(",", ".")))

    def _from_number(self, number: float) -> datetime:
        if self.form == "spreadsheet days":
            return _whole_milliseconds(_SERIAL_ZERO + timedelta(days=number))
        if self.form == "unix seconds":
            return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=number)
        return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=number)

    def _typed(self, texts: list[str], values: list[object]) -> datetime:
        first = values[0]
        if len(values) == 1:
            if isinstance(first, datetime):
                return _whole_milliseconds(first)
            if isinstance(first, date):
                raise _DoubtError(f"only the day is stated: {first.isoformat()}")
            if isinstance(first, int | float) and self.form in NUMBER_FORMATS:
                return self._from_number(float(first))
            if isinstance(first, int | float):
                raise _DoubtError(f"the cell holds the number {texts[0]} and no date; if it counts days, the format is "
                                "'spreadsheet days'")
            raise _DoubtError(f"the cell holds {texts[0]!r}, which is no date")
        return self._day(texts[0], first) + self._hour(texts[1], values[1])

    def _day(self, text: str, value: object) -> datetime:
        if isinstance(value, date):  # a datetime is a date too; its time of day is that of the other column
            return datetime(value.year, value.month, value.day)
        if isinstance(value, int | float):
            raise _DoubtError(f"the cell of the day holds the number {text} and no date")
        if not self.day_form:
            raise _DoubtError(f"the format {self.form!r} cannot be parted into day and time of day")
        return datetime.strptime(text, self.day_form)

    def _hour(self, text: str, value: object) -> timedelta:
        if isinstance(value, datetime):
            value = value.time()
        if isinstance(value, time):
            clock = timedelta(hours=value.hour, minutes=value.minute, seconds=value.second,
                              microseconds=value.microsecond)
        elif isinstance(value, timedelta):
            clock = value
        elif isinstance(value, int | float):
            clock = timedelta(days=value)
        elif self.hour_form:
            clock = datetime.strptime(f"2000 {text}", f"%Y {self.hour_form}") - datetime(2000, 1, 1)
        else:
            raise _DoubtError(f"the format {self.form!r} cannot be parted into day and time of day")
        if not timedelta(0) <= clock < timedelta(days=1):
            raise _DoubtError(f"{text!r} is no time of day")
        return timedelta(milliseconds=round(clock / timedelta(milliseconds=1)))

    def _placed(self, found: datetime, text: str) -> ReadTime:
        if not FIRST_YEAR <= found.year <= LAST_YEAR:
            return ReadTime(None, text, f"the year {found.year} cannot be; years {FIRST_YEAR} to {LAST_YEAR} are read")
        if self.day_only:
            return ReadTime(None, text, f"only the day is stated: {found.date().isoformat()}")
        if found.tzinfo is not None:
            return ReadTime(found.astimezone(UTC), text, "")
        zone = self.zone
        if zone is None:
            return ReadTime(None, text, "the cell carries no offset from UTC and the mapping names no zone")
        if self._is_utc:
            return ReadTime(found.replace(tzinfo=UTC), text, "")
        early = found.replace(tzinfo=zone)
        late = early.replace(fold=1)
        if early.utcoffset() == late.utcoffset():
            return ReadTime(early.astimezone(UTC), text, "")
        utc = early.astimezone(UTC)
        if utc.astimezone(zone).replace(tzinfo=None) != found:
            return ReadTime(None, text, f"{found:%Y-%m-%d %H:%M:%S} did not exist in {zone.key}: the clocks went "
                                        "forward")
        return ReadTime(utc, text, f"{found:%Y-%m-%d %H:%M:%S} occurred twice in {zone.key}, as {utc:%H:%M:%S} and as "
                                   f"{late.astimezone(UTC):%H:%M:%S} UTC: the clocks went back; the earlier is shown")


class _DoubtError(ValueError):
    """Why no time can be told from typed cells."""


def _whole_milliseconds(value: datetime) -> datetime:
    """Spreadsheets count days as binary fractions; what is left below a millisecond is rounding."""
    rest = timedelta(microseconds=value.microsecond % 1000)
    return value - rest + (timedelta(milliseconds=1) if rest >= timedelta(microseconds=500) else timedelta(0))
