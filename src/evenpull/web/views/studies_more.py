"""Beside a study: how many readings it takes, whether a tool drifts, what a check of some says of all. They only
read."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_safe

from evenpull.report.plot_svg import plot_svg
from evenpull.statistics.repeatability_plan import Expected
from evenpull.store import services
from evenpull.store.services import drifting
from evenpull.study import planning, sampled
from evenpull.study.drift import Calibration
from evenpull.study.readings import value_of
from evenpull.study.result import Table

# name of a field, its label, what it begins with, the hint beside it
Field = tuple[str, str, str, str]
SCATTER: tuple[Field, ...] = (
    ("repeat", "One person on one part: s", "1.2", "standard deviation, in any unit"),
    ("operator", "Between persons: s", "0.6", "same unit"),
    ("interaction", "Persons differing from part to part: s", "0", "same unit"),
    ("part", "Between parts: s", "4", "same unit"),
    ("parts", "Parts or targets", "5", "2 or more"),
    ("persons", "Persons", "3", "2 or more"),
    ("repeats", "Repeats", "3", "2 or more"),
    ("wanted", "Upper limit wanted, over the scatter itself", "1.8", "may be left out"),
    ("confidence", "Confidence, %", "95", ""),
)
INDEX: tuple[Field, ...] = (
    ("demanded", "Index demanded (Cmk or Cpk)", "1.67", ""),
    ("expected", "Index expected", "2", "may be left out"),
    ("content", "Share of all pulls in a tolerance interval, %", "95", ""),
    ("confidence", "Confidence, %", "95", ""),
)
PULLS: tuple[Field, ...] = (
    ("scatter", "Scatter s of a person's pulls", "1.5", "in any unit"),
    ("persons", "Persons judged together", "3", ""),
    ("wanted", "Limits wanted, so much to either side", "1", "may be left out"),
    ("confidence", "Confidence, %", "95", ""),
)
FORMS: dict[str, tuple[str, tuple[Field, ...]]] = {
    "repeatability": ("Repeatability and reproducibility", SCATTER), "capability": ("Capability", INDEX),
    "exercise": ("Operator exercise", PULLS),
}  # fmt: skip
SAMPLE: tuple[Field, ...] = (
    ("lot", "How many there are", "100", "left out: without end"),
    ("checked", "How many were checked", "10", "left out: only how many to check"),
    ("found", "How many of them were bad", "0", ""),
    ("share", "Share bad that must be shown not to be there, %", "5", "may be left out"),
    ("confidence", "Confidence, %", "95", ""),
)


class Asked:
    """The fields of one form as numbers, each fault in words beside its field."""

    def __init__(self, request: HttpRequest, fields: tuple[Field, ...]) -> None:
        self.given = any(name in request.GET for name, *_ in fields)
        self.texts = {name: request.GET.get(name, "" if self.given else start).strip() for name, _, start, _ in fields}
        self.faults: dict[str, str] = {}

    def number(self, name: str, default: float | None = None) -> float | None:
        text = self.texts[name]
        if not text:
            if default is None:
                return None
            return default
        try:
            return value_of(text)
        except ValueError as error:
            self.faults[name] = str(error)
            return default

    def needed(self, name: str) -> float:
        found = self.number(name)
        if found is None:
            self.faults.setdefault(name, "a number is needed here")
            return 1.0
        return found

    def whole(self, name: str, default: int | None = None) -> int | None:
        found = self.number(name, default)
        if found is not None and found != int(found):
            self.faults[name] = f"{self.texts[name]} is not a whole number"
            return default
        return None if found is None else int(found)

    def shown(self, fields: tuple[Field, ...]) -> list[dict[str, str]]:
        return [{"name": name, "label": label, "hint": hint, "value": self.texts[name],
                 "fault": self.faults.get(name, "")} for name, label, _, hint in fields]


def _computed(asked: Asked, make: Callable[[], tuple[list[Table], list[str]]]) -> tuple[list[Table], list[str], str]:
    """(tables, words, problem); what the statistics refuse is the problem, in their words."""
    try:
        tables, words = make()
    except ValueError as error:
        return [], [], str(error)
    return ([], [], "") if asked.faults else (tables, words, "")


@require_safe
def plan(request: HttpRequest) -> HttpResponse:
    kind = request.GET.get("kind", "repeatability")
    if kind not in FORMS:
        raise Http404(f"{kind[:40]!r} is no plan; there are: {', '.join(FORMS)}")
    title, fields = FORMS[kind]
    asked = Asked(request, fields)
    make = {"repeatability": _plan_repeatability, "capability": _plan_capability, "exercise": _plan_exercise}[kind]
    tables, words, problem = _computed(asked, lambda: make(asked))
    values = {"kind": kind, "title": title, "fields": asked.shown(fields), "tables": tables, "words": words,
              "problem": problem, "forms": FORMS, "guessed": planning.GUESSED}  # fmt: skip
    return render(request, "web/study_plan.html", values, status=422 if asked.faults or problem else 200)


def _confidence(asked: Asked) -> float:
    return (asked.number("confidence", 95.0) or 0.0) / 100


def _plan_repeatability(asked: Asked) -> tuple[list[Table], list[str]]:
    expected = Expected(asked.number("part", 0.0) or 0.0, asked.number("operator", 0.0) or 0.0,
                        asked.number("interaction", 0.0) or 0.0, asked.needed("repeat"))
    parts, persons, repeats = (asked.whole(name) or 0 for name in ("parts", "persons", "repeats"))
    wanted, confidence = asked.number("wanted"), _confidence(asked)
    tables = [planning.widths(expected, parts, persons, repeats, confidence),
              planning.alternatives(expected, parts, confidence=confidence)]
    words = [] if wanted is None else [planning.fewest(expected, parts, wanted, confidence=confidence),
                                       planning.persons_for(wanted, confidence)]
    return tables, words


def _plan_capability(asked: Asked) -> tuple[list[Table], list[str]]:
    demanded, confidence = asked.needed("demanded"), _confidence(asked)
    content = (asked.number("content", 95.0) or 0.0) / 100
    return [planning.capability_table(demanded, confidence)], [
        *planning.capability_words(demanded, asked.number("expected"), confidence),
        planning.tolerance_words(content, confidence),
    ]


def _plan_exercise(asked: Asked) -> tuple[list[Table], list[str]]:
    s, persons, confidence = asked.needed("scatter"), asked.whole("persons", 1) or 0, _confidence(asked)
    wanted = asked.number("wanted")
    words = [] if wanted is None else planning.exercise_words(s, wanted, persons, "", confidence)
    return [planning.exercise_table(s, persons, "", confidence)], words


@require_safe
def sampling(request: HttpRequest) -> HttpResponse:
    asked = Asked(request, SAMPLE)
    _, words, problem = _computed(asked, lambda: ([], _sample(asked)))
    values = {"fields": asked.shown(SAMPLE), "words": words, "problem": problem, "drawn": sampled.DRAWN,
              "chosen": sampled.CHOSEN}  # fmt: skip
    return render(request, "web/sampling.html", values, status=422 if asked.faults or problem else 200)


def _sample(asked: Asked) -> list[str]:
    lot, checked, found = asked.whole("lot"), asked.whole("checked"), asked.whole("found", 0) or 0
    share, confidence = asked.number("share"), _confidence(asked)
    words = []
    if checked is not None:
        words.append(sampled.sampled(lot, checked, found, confidence).words if lot is not None else
                     sampled.endless(checked, found, confidence))
    if share is not None:
        words += sampled.sizes(share / 100, confidence, lot, 0 if checked is not None else found)
    if not words:
        asked.faults["checked"] = "say how many were checked, or which share must be shown not to be there"
    return words


# drift ---------------------------------------------------------------------------------------------------------------

DRIFT: tuple[Field, ...] = (
    ("since", "Checks since", "", "a day as 2026-03-18; left out: all"),
    ("baseline", "First checks that make the limits", "", "left out: half of them, at most 10"),
    ("limit", "Permissible deviation, %", "", "left out: that of the register, or of the last certificate"),
    ("uncertainty", "Expanded uncertainty of a calibration, %", "", "left out: that of the last certificate"),
)


@require_safe
def drift(request: HttpRequest) -> HttpResponse:
    """One tool's chart, trend and advice. Deviations of certificates come from the field, one line each."""
    serial = " ".join(request.GET.get("tool", "").split())
    asked = Asked(request, DRIFT)
    since, calibrations, text = _day(asked), _calibrations(request, asked), request.GET.get("certificates", "")
    limit, k_u, baseline = asked.number("limit"), asked.number("uncertainty"), asked.whole("baseline")
    problem, view = "", None
    try:
        if not asked.faults:
            view = services.drift_of(serial, since=since, baseline=baseline, calibrations=calibrations,
                                     k_u=None if k_u is None else k_u / 100,
                                     limit=None if limit is None else limit / 100)
    except services.Unknown as error:
        raise Http404(str(error)) from error
    except services.Refused as error:
        problem = str(error)
    series = [] if view is None else [
        # The drawing escapes every text it takes in.
        (one, "" if one.plot is None else mark_safe(plot_svg(one.plot))) for one in view.drift.series
    ]
    values = {
        "tool": serial, "view": view, "series": series, "fields": asked.shown(DRIFT), "problem": problem,
        "certificates": text, "fault": asked.faults.get("certificates", ""),
        "says_not": () if view is None else view.drift.says_not,
    }  # fmt: skip
    return render(request, "web/drift.html", values, status=422 if problem or asked.faults else 200)


def _day(asked: Asked) -> date | None:
    text = asked.texts["since"]
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        asked.faults["since"] = f"{text[:40]!r} is not a day; write it as 2026-03-18"
        return None


def _calibrations(request: HttpRequest, asked: Asked) -> list[Calibration]:
    """Lines "day; found %; left %"; the third may be left out where nothing was adjusted."""
    found = []
    for number, line in enumerate(request.GET.get("certificates", "").splitlines(), start=1):
        cells = [cell.strip() for cell in line.split(";")]
        if not any(cells):
            continue
        try:
            if len(cells) not in (2, 3):
                raise ValueError
            left = value_of(cells[2]) / 100 if len(cells) == 3 and cells[2] else None
            found.append(Calibration(date.fromisoformat(cells[0]), value_of(cells[1]) / 100, left))
        except ValueError:
            what = f"line {number}: {line[:60]!r} is not: day; deviation found in %; deviation left in %"
            asked.faults["certificates"] = f"{what}, as 2025-02-10; 0.4; 0.1"
    return found


@require_safe
def drifts(request: HttpRequest) -> HttpResponse:
    """Every tool that was checked, and what its checks say."""
    page = drifting.overview(request.GET.get("after", "")[:100].replace("\0", ""))
    return render(request, "web/audit_drift.html", {"found": page})
