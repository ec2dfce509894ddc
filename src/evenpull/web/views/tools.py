"""The tool register as the settings and the judgement use it."""

from __future__ import annotations

from datetime import UTC, datetime

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from evenpull.plan import SpecificationError
from evenpull.store import services
from evenpull.web.context import author_of
from evenpull.web.views.common import BadUploadError, needs_author, refused, small_text

TOOLS_ON_A_PAGE = 100


@require_http_methods(["GET", "HEAD", "POST"])
def listing(request: HttpRequest) -> HttpResponse:
    if request.method == "POST":
        return _add(request)
    wanted = request.GET.get("q", "").strip().casefold()
    found = [t for t in services.tools() if wanted in f"{t.serial} {t.name} {t.certificate}".casefold()]
    page = Paginator(found, TOOLS_ON_A_PAGE).get_page(request.GET.get("page"))
    values = {"tools": page, "q": wanted, "total": len(found), "today": datetime.now(UTC).date()}
    return render(request, "web/tools.html", values)


@needs_author
def _add(request: HttpRequest) -> HttpResponse:
    try:
        name, text = small_text(request, "file", "tools.toml")
        count = services.add_tools(text, name, author_of(request))
    except (BadUploadError, SpecificationError) as error:
        return refused(request, error, reverse("tools"))
    messages.success(request, f"{count} tools written from {name}.")
    return HttpResponseRedirect(reverse("tools"))
