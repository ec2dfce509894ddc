"""Uploads that wait between preview and commit, in HOME/incoming, named by their SHA-256; a commit names that hash, so
what is written is what was previewed."""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
import time
from contextlib import suppress
from pathlib import Path

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest

from evenpull.store import services

FORGOTTEN_AFTER = 24 * 3600  # seconds after which an upload that nobody took in is dropped


def waiting(sha256: str) -> Path:
    if not re.fullmatch(r"[0-9a-f]{64}", sha256):
        raise ValueError("not a SHA-256")
    return services.home() / "incoming" / sha256


def keep(upload: UploadedFile) -> Path:
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


def chosen(request: HttpRequest) -> tuple[str, Path]:
    """Name and place of the file that a form sends, or of the one that it names among those that wait. ValueError says
    what to do when there is none."""
    upload = request.FILES.get("file")
    if upload is not None:
        return Path(upload.name or "file").name, keep(upload)
    sha256, name = request.POST.get("sha256", ""), Path(request.POST.get("name", "")).name
    if not sha256 or not name:
        raise ValueError("Choose a file first. Nothing was written.")
    path = waiting(sha256)
    if not path.exists():
        raise ValueError("The file is no longer waiting; choose it again. Nothing was written.")
    return name, path
