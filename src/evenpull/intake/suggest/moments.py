"""The time of a record: which columns, which format, which zone. Day and month are never told apart by a guess."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from evenpull.intake.suggest.columns import Column
from evenpull.intake.suggest.model import LEAVE_OUT, Choice, Question, Sureness
from evenpull.intake.suggest.pick import Draft, Use, sample, toml_text, word
from evenpull.intake.suggest.times import Ways, ways
from evenpull.intake.suggest.words import modifiers
from evenpull.intake.times import has_offset, zone_named

_COUNTS = (  # numbers from the year 2000 to 2100
    ("spreadsheet days", 36_526.0, 73_415.0), ("unix seconds", 9.4e8, 4.1e9), ("unix milliseconds", 9.4e11, 4.1e12),
)
_SAME = {"day": "%Y-%m-%d", "hour": "%H:%M:%S", "moment": "%Y-%m-%d %H:%M:%S"}


@dataclass(frozen=True)
class _Times:
    """A column that holds times. `what`: day, hour, moment. `formats`: all that read it; one where nothing is open."""

    column: Column
    what: str
    formats: tuple[str, ...]
    differ: bool
    unread: int
    words: int
    reason: str


def find_time(draft: Draft) -> None:
    """Adds [time] to the draft as far as it can be told, and the questions that are left."""
    found = [one for column in draft.free() if (one := _look(column)) is not None]
    chosen = draft.answers.answer("time.column")
    if chosen == LEAVE_OUT:
        return
    moments, days = _of(found, "moment"), _of(found, "day")
    hours = _of(found, "hour")
    mains = moments or days
    if chosen is not None and any(one.column.name == chosen for one in found):
        mains = [one for one in found if one.column.name == chosen]
    if len(mains) > 1:
        draft.answers.refuse("time.column")
        draft.answers.ask(Question("time.column", "Which column holds the time at which it was done?", (
            *(Choice(one.column.name, f"{one.column.name}: {sample(one.column)}") for one in mains),
            Choice(LEAVE_OUT, "none of them; leave the time out"),
        )))
        return
    if not mains:
        draft.notes.append("no column holds a day and a time that could be read; the records will have no time")
        return
    main = mains[0]
    hour = None
    if main.what == "day" and hours:
        if len(hours) > 1:
            wanted = draft.answers.ask(Question(
                "time.time_column", "Which column holds the time of day at which it was done?",
                (*(Choice(one.column.name, f"{one.column.name}: {sample(one.column)}") for one in hours),
                 Choice(LEAVE_OUT, "none of them; only the day is known")),
            ))
            hour = next((one for one in hours if one.column.name == wanted), None)
        else:
            hour = hours[0]
    _write(draft, main, hour, bool(chosen))


def _of(found: Sequence[_Times], what: str) -> list[_Times]:
    """Columns of one sort; those whose heading speaks of it, where there are such."""
    ours = [one for one in found if one.what == what]
    best = max((one.words for one in ours), default=0)
    return [one for one in ours if one.words == best]


def _look(column: Column) -> _Times | None:
    if not column.filled or modifiers(column.heading) & {"other_date"}:
        return None
    said = {"day": word("date", column), "hour": word("time", column),
            "moment": max(word("moment_word", column), min(word("date", column), 2), min(word("time", column), 2))}
    if column.typed_times >= 0.5:
        return _typed(column, said)
    if column.numeric >= 0.5 and max(said.values()) < 2:
        return None  # 12.30 is a torque as well as half past twelve: then the heading has to say it
    for what in ("moment", "day", "hour"):
        if column.numeric >= 0.5 and (what == "hour" or said[what] < 2):
            continue  # under "time" 12.30 may be a duration too
        read = ways(column.filled, what)
        if read is not None:
            return _Times(column, what, read.formats, read.differ, read.unread, said[what], _reason(read))
    numbers = column.rough()
    if column.numeric >= 0.9 and max(said.values()) >= 2 and len(numbers) >= 0.9 * len(column.filled):
        for form, low, high in _COUNTS:
            if all(low <= number <= high for number in numbers):
                return _Times(column, "moment", (form,), False, 0, said["moment"], f"numbers that fit {form}")
    return None


def _reason(read: Ways) -> str:
    rest = f"; {read.unread} fit no form and will have no time" if read.unread else ""
    if not read.formats:
        return f"no single form reads all of its {read.looked} different cells"
    many = "forms read" if len(read.formats) > 1 else "form reads"
    return f"{len(read.formats)} {many} all of its {read.looked - read.unread} different cells" + rest


def _typed(column: Column, said: dict[str, int]) -> _Times | None:
    values = [value for value in column.values if isinstance(value, date | time | timedelta)]
    if all(isinstance(value, datetime) for value in values):
        whole = all(isinstance(v, datetime) and v.time() == time() for v in values)
        what = "day" if whole and said["day"] >= said["hour"] else "moment"
    else:
        what = "day" if all(isinstance(value, date) for value in values) else "hour"
    texts = [text for text, value in zip(column.texts, column.values, strict=True)
             if text and not isinstance(value, date | time | timedelta)]
    read = ways(texts, what) if texts else None
    formats: tuple[str, ...] = (_SAME[what],)
    differ = False
    if read is not None:
        formats, differ = read.formats or formats, read.differ
    unread = len(texts) if texts and read is None else read.unread if read is not None else 0
    return _Times(column, what, formats, differ, unread, said[what], "the spreadsheet holds dates or times")


def _write(draft: Draft, main: _Times, hour: _Times | None, answered: bool) -> None:
    day_form = _chosen(draft, main, "time.format")
    hour_form = _chosen(draft, hour, "time.hours") if hour is not None else ""
    if day_form is None or hour_form is None:
        if hour is not None:
            draft.mark(hour.column, "time.time_column", "ask", "it waits for the day")
        return
    form = f"{day_form} {hour_form}".strip()
    sureness = _sureness(main, answered)
    draft.use(Use("time.column", toml_text(main.column.name), sureness, main.reason, main.column))
    if hour is not None:
        sureness = _sureness(hour, False)
        draft.use(Use("time.time_column", toml_text(hour.column.name), sureness, hour.reason, hour.column))
    elif main.what == "day":
        draft.notes.append("the file states the day only; its records will have no time of day")
    draft.use(Use("time.format", toml_text(form), "sure" if not main.differ else "likely",
                  "answered" if "time.format" in draft.answers.given else "the only order that reads every row"))
    if has_offset(form):
        return
    answer = draft.answers.answer("time.zone") or draft.known.zone
    if answer and zone_named(answer) is not None:
        given = "time.zone" in draft.answers.given
        draft.use(Use("time.zone", toml_text(answer), "sure" if given else "guess",
                      "answered" if given else "the zone of the site; the file does not say whose clock wrote it"))
        return
    draft.answers.refuse("time.zone")
    draft.answers.ask(Question(
        "time.zone", "In which time zone did the clock run that wrote these times? The file does not say it.",
        (*(Choice(zone, f"{zone}, as other sources of this dossier") for zone in draft.known.zones if zone != "UTC"),
         Choice("UTC", "UTC")),
        free=True, example="a zone by its name in the IANA time zone database, such as Europe/London",
    ))


def _sureness(one: _Times, answered: bool) -> Sureness:
    if answered or (one.words >= 2 and not one.unread):
        return "sure"
    return "likely"


def _chosen(draft: Draft, one: _Times, key: str) -> str | None:
    """The format; None where a person has to choose or to write it."""
    if not one.formats:
        draft.answers.refuse("time.column")
        draft.answers.ask(Question(
            "time.column", f"{one.column.name}: {one.reason}. The dates seem to be written in several orders; leave "
            "the time out, or write the mapping by hand", (Choice(LEAVE_OUT, "leave the time out"),)))
        draft.mark(one.column, "", "ask", one.reason)
        return None
    if not one.differ:
        return one.formats[0]
    cell = one.column.filled[0]
    answer = draft.answers.ask(Question(
        key, f"{one.column.name}: day, month and year can be told apart in several ways, and each reads every row. "
        "Which is right? Ask whoever wrote the file; no row settles it",
        tuple(Choice(form, f"{form}: {cell} is {_said(cell, form)}") for form in one.formats),
    ))
    if answer is None:
        draft.mark(one.column, "time.column", "ask", "day and month cannot be told apart: " + one.reason)
    return answer


def _said(cell: str, form: str) -> str:
    try:
        return f"{datetime.strptime(cell, form):%-d %B %Y}"
    except ValueError:
        return "not read"
