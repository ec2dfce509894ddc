"""A file of an unknown layout: what each column was taken for, what a person has to answer, the rows it would give."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from evenpull.intake.record import IntakeError
from evenpull.intake.suggest import Suggestion, renamed
from evenpull.store import services
from evenpull.web.context import author_of
from evenpull.web.views.common import needs_author, refused
from evenpull.web.views.intake import shown, taken_in
from evenpull.web.waiting import chosen

ANSWER, OTHER, BEFORE = "a:", "other:", "before:"
SURE = {"sure": "accepted", "likely": "ready", "guess": "not-judged", "ask": "not-judged"}
WORDS = {
    "torque.column": "torque", "torque.unit_column": "unit of the torque", "angle.column": "angle",
    "angle.unit_column": "unit of the angle", "time.column": "time, or its day", "time.time_column": "time of day",
}  # fmt: skip
Page = dict[str, object]


@require_http_methods(["GET", "HEAD", "POST"])
def suggest(request: HttpRequest) -> HttpResponse:
    if request.method != "POST":  # the file is not sent again by going back to this address
        return HttpResponseRedirect(reverse("intake"))
    return _posted(request, commit=False)


@require_POST
def confirm(request: HttpRequest) -> HttpResponse:
    """Writes the mapping and the records; an address of its own, as writing a mapping is another act than looking."""
    return _posted(request, commit=True)


@needs_author
def _posted(request: HttpRequest, *, commit: bool) -> HttpResponse:
    try:
        name, path = chosen(request)
    except ValueError as error:
        return refused(request, error, reverse("intake"))
    answers = _answers(request)
    try:
        found = services.suggest_mapping(name, path, answers)
    except (IntakeError, services.Refused) as error:
        path.unlink(missing_ok=True)
        return refused(request, error, reverse("intake"))
    text = request.POST.get("text", "").replace("\r\n", "\n")
    edited = bool(text) and text != found.text
    page: Page = {"name": name, "sha256": path.name, "edited": edited, "text": text or found.text}
    page |= _columns(found, answers)
    try:
        if commit:
            text = renamed(text, request.POST.get("title", ""))
            done = services.commit_suggested(name, path, text, author_of(request))
            path.unlink(missing_ok=True)
            return taken_in(request, name, done)
        if edited or not found.questions:
            page |= shown(services.preview_suggested(name, path, text or found.text))
    except (IntakeError, services.Refused) as error:
        return render(request, "web/suggest.html", page | {"error": error}, status=422)
    if not answers and not edited:
        page["fits"] = services.fitting_mappings(name, path)
    return render(request, "web/suggest.html", page)


def _answers(request: HttpRequest) -> dict[str, str]:
    """Answers by the key of their question; a text that was typed counts instead of a choice."""
    found = {key.removeprefix(ANSWER): value for key, value in request.POST.items() if key.startswith(ANSWER) and value}
    for name, value in request.POST.items():
        if name.startswith(OTHER) and value.strip():
            key = name.removeprefix(OTHER)
            found[key] = request.POST.get(BEFORE + key, "") + value.strip()
    return found


def _columns(found: Suggestion, answers: dict[str, str]) -> Page:
    return {
        "columns": [
            {"one": one, "state": SURE[one.sureness], "field": _in_words(one.field)} for one in found.columns
        ],
        "questions": [{"one": one, "id": f"q{n}"} for n, one in enumerate(found.questions, 1)],
        "answered": sorted(answers.items()),
        "notes": found.notes,
        "not_taken": found.not_taken,
    }


def _in_words(field: str) -> str:
    """ "columns.end_cause" -> "end cause": a place of the mapping as a person reads it."""
    return WORDS.get(field, field.split(".", 1)[-1].replace("_", " "))
