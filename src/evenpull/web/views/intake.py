"""Taking in a file: choose file and mapping, see every row it would create, then commit. Nothing is written before."""

from __future__ import annotations

from pathlib import Path

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from evenpull.intake.record import IntakeError
from evenpull.store import services
from evenpull.web.context import author_of
from evenpull.web.views.common import BadUploadError, needs_author, refused, small_text
from evenpull.web.waiting import chosen, waiting

SHOWN_ROWS = 60
SHOWN_JOINTS = 50


@require_safe
def start(request: HttpRequest) -> HttpResponse:
    return render(request, "web/intake.html", _start())


def _start() -> dict[str, object]:
    return {
        "mappings": services.mappings(),
        "files": services.files(),
        "unplaced": services.unplaced(SHOWN_JOINTS),
        "unplaced_count": services.unplaced_count(),
    }


@require_POST
@needs_author
def preview(request: HttpRequest) -> HttpResponse:
    mapping = request.POST.get("mapping", "")
    try:
        name, path = chosen(request)
    except ValueError as error:
        return refused(request, error, reverse("intake"))
    try:
        found = services.preview_file(name, path, mapping)
    except (IntakeError, services.Unknown, services.Refused) as error:
        path.unlink(missing_ok=True)
        return render(request, "web/intake.html", _start() | {"error": error, "name": name}, status=422)
    return render(request, "web/preview.html", {"name": name, "mapping": mapping} | shown(found))


def shown(found: services.Preview) -> dict[str, object]:
    """What a page shows of a preview: what would be written, the first rows, what is doubtful."""
    reading = found.reading
    return {
        "found": found,
        "unknown": list(found.unknown.items())[:SHOWN_JOINTS],
        "reading": reading,
        "rows": reading.tightenings[:SHOWN_ROWS],
        "more": max(len(reading.tightenings) - SHOWN_ROWS, 0),
        "earlier": [one for one in services.readings_of(reading.file_sha256) if one.withdrawn],
        "doubts": [t for t in reading.tightenings if t.remarks or t.time_doubt][:SHOWN_ROWS],
    }


@require_POST
@needs_author
def add_mapping(request: HttpRequest) -> HttpResponse:
    back = reverse("intake")
    try:
        name, text = small_text(request, "file", "mapping.toml")
        row = services.add_mapping(text, name, author_of(request))
    except (BadUploadError, IntakeError) as error:
        return refused(request, error, back)
    messages.success(request, f"Mapping “{row.name}” written.")
    return HttpResponseRedirect(back)


@require_POST
@needs_author
def commit(request: HttpRequest) -> HttpResponse:
    name, mapping = Path(request.POST.get("name", "")).name, request.POST.get("mapping", "")
    back = reverse("intake")
    try:
        path = waiting(request.POST.get("sha256", ""))
        done = services.commit_file(name, path, mapping, author_of(request))
    except (ValueError, FileNotFoundError):
        return refused(request, ValueError("The previewed file is no longer waiting; choose it again."), back)
    except (IntakeError, services.Unknown, services.Refused) as error:
        return refused(request, error, back)
    path.unlink(missing_ok=True)
    return taken_in(request, name, done)


def taken_in(request: HttpRequest, name: str, done: services.Imported) -> HttpResponse:
    """The page of the file, with what was done with it."""
    if done.already:
        messages.success(request, f"{name} was taken in before; importing it again changed nothing.")
    else:
        messages.success(
            request,
            f"{name}: {done.new} records written, {done.repeated} received before and ignored, {done.unread} rows kept "
            f"as unread, {done.set_aside} set aside by the mapping.",
        )
    return HttpResponseRedirect(reverse("file", args=[done.sha256]))
