"""The tool register as the settings and the judgement use it."""

from __future__ import annotations

from datetime import UTC, datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from evenpull.plan import SpecificationError
from evenpull.store import services
from evenpull.web.context import author_of
from evenpull.web.views.common import needs_author


@require_http_methods(["GET", "HEAD", "POST"])
def listing(request: HttpRequest) -> HttpResponse:
    if request.method == "POST":
        return _add(request)
    return render(request, "web/tools.html", {"tools": services.tools(), "today": datetime.now(UTC).date()})


@needs_author
def _add(request: HttpRequest) -> HttpResponse:
    upload = request.FILES.get("file")
    if upload is None or upload.size > 2_000_000:
        messages.error(request, "Choose a tool register as a TOML file of at most 2 MB.")
        return HttpResponseRedirect(reverse("tools"))
    try:
        count = services.add_tools(upload.read().decode("utf-8"), upload.name or "tools.toml", author_of(request))
    except UnicodeDecodeError as error:
        messages.error(request, f"{upload.name}: not UTF-8 at byte {error.start}. Save the file as UTF-8. Nothing was written.")
    except SpecificationError as error:
        messages.error(request, f"Nothing was written. {error}")
    else:
        messages.success(request, f"{count} tools written from {upload.name}.")
    return HttpResponseRedirect(reverse("tools"))
