"""Taking in a file: choose file and mapping, see every row it would create, then commit. Nothing is written before.

Between preview and commit the bytes wait in HOME/incoming, named by their SHA-256; a commit names that hash, so what
is written is what was previewed.
"""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
import time
from contextlib import suppress
from pathlib import Path

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from evenpull.intake.record import IntakeError
from evenpull.store import services
from evenpull.web.context import author_of
from evenpull.web.views.common import BadUploadError, needs_author, refused, small_text

SHOWN_ROWS = 60
SHOWN_JOINTS = 50
FORGOTTEN_AFTER = 24 * 3600  # seconds after which a preview nobody committed is dropped


def _incoming(sha256: str) -> Path:
    if not re.fullmatch(r"[0-9a-f]{64}", sha256):
        raise ValueError("not a SHA-256")
    return services.home() / "incoming" / sha256


def _keep(upload: UploadedFile) -> Path:
    """Stream the upload to HOME/incoming under its hash; a file is complete there or not there at all."""
    folder = services.home() / "incoming"
    folder.mkdir(parents=True, exist_ok=True)
    _forget(folder)
    digest = hashlib.sha256()
    descriptor, name = tempfile.mkstemp(dir=folder)
    temporary = Path(name)
    try:
        with os.fdopen(descriptor, "wb") as out:
            for chunk in upload.chunks():
                digest.update(chunk)
                out.write(chunk)
        return temporary.replace(folder / digest.hexdigest())
    finally:
        temporary.unlink(missing_ok=True)  # the disk was full, say


def _forget(folder: Path) -> None:
    """Drop previews that nobody committed: the file itself is still where it was uploaded from."""
    oldest = time.time() - FORGOTTEN_AFTER
    for path in folder.iterdir():
        with suppress(FileNotFoundError):  # another preview was faster
            if path.stat().st_mtime < oldest:
                path.unlink()


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
    upload, mapping = request.FILES.get("file"), request.POST.get("mapping", "")
    if upload is None:
        return refused(request, ValueError("Choose a file first. Nothing was written."), reverse("intake"))
    name = Path(upload.name or "file").name
    path = _keep(upload)
    try:
        found = services.preview_file(name, path, mapping)
    except (IntakeError, services.Unknown, services.Refused) as error:
        path.unlink(missing_ok=True)
        return render(request, "web/intake.html", _start() | {"error": error, "name": name}, status=422)
    reading = found.reading
    return render(
        request,
        "web/preview.html",
        {
            "name": name,
            "mapping": mapping,
            "found": found,
            "unknown": list(found.unknown.items())[:SHOWN_JOINTS],
            "reading": reading,
            "rows": reading.tightenings[:SHOWN_ROWS],
            "more": max(len(reading.tightenings) - SHOWN_ROWS, 0),
            "earlier": [one for one in services.readings_of(reading.file_sha256) if one.withdrawn],
            "doubts": [t for t in reading.tightenings if t.remarks or t.time_doubt][:SHOWN_ROWS],
        },
    )


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
        path = _incoming(request.POST.get("sha256", ""))
        done = services.commit_file(name, path, mapping, author_of(request))
    except (ValueError, FileNotFoundError):
        return refused(request, ValueError("The previewed file is no longer waiting; choose it again."), back)
    except (IntakeError, services.Unknown, services.Refused) as error:
        return refused(request, error, back)
    path.unlink(missing_ok=True)
    if done.already:
        messages.success(request, f"{name} was taken in before; importing it again changed nothing.")
    else:
        messages.success(
            request,
            f"{name}: {done.new} records written, {done.repeated} received before and ignored, {done.unread} rows kept "
            f"as unread, {done.set_aside} set aside by the mapping.",
        )
    return HttpResponseRedirect(reverse("file", args=[done.sha256]))
