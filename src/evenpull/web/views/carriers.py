"""Carriers: work into a site without network and out again; made, looked into, taken in, and what was in each."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from evenpull.carrier import CarrierError, Part
from evenpull.store import services
from evenpull.web.context import author_of
from evenpull.web.views.common import found_or_404, needs_author
from evenpull.web.waiting import chosen

TEXTS = ("subject", "joints", "cards", "records-mapping", "typed-mapping")
FILES = {"records": "records", "typed": "typed sheet", "scans": "scan"}  # name of the field -> kind of the part


@require_http_methods(["GET", "HEAD", "POST"])
def carriers(request: HttpRequest) -> HttpResponse:
    """The carriers there are and both forms; a carrier that is refused is shown with what was filled in."""
    return _make(request) if request.method == "POST" else _page(request, {})


def _page(request: HttpRequest, values: dict[str, object], problem: str = "", **more: object) -> HttpResponse:
    context = {"rows": services.carriers(), "mappings": services.mappings(), "values": values, "problem": problem,
               "key": services.log_status().key_id}  # fmt: skip
    return render(request, "web/carriers.html", context | more, status=422 if problem else 200)


@needs_author
def _make(request: HttpRequest) -> HttpResponse:
    values: dict[str, object] = {name.replace("-", "_"): request.POST.get(name, "")[:20_000] for name in TEXTS}
    values |= {"chosen": request.POST.getlist("mappings"), "tools": "tools" in request.POST,
               "equipment": "equipment" in request.POST}  # fmt: skip
    try:
        services.carry_out(
            str(values["subject"]), author_of(request), joints=_words(values["joints"]),
            mappings=request.POST.getlist("mappings"), cards=_words(values["cards"]), tools=bool(values["tools"]),
            equipment=bool(values["equipment"]), files=_files(request),
        )  # fmt: skip
    except (CarrierError, services.Refused, services.Unknown) as error:
        return _page(request, values, str(error), failed="No carrier was made.")
    messages.success(request, "The carrier is made: save it from the list below. Tell the receiver the fingerprint of "
                     "the key on another way than the carrier goes.")  # fmt: skip
    return HttpResponseRedirect(reverse("carriers"))


def _words(text: object) -> list[str]:
    return str(text).replace(",", " ").split()


def _files(request: HttpRequest) -> list[Part]:
    found = []
    for name, kind in FILES.items():
        mapping = request.POST.get(f"{name}-mapping", "")
        found += [Part(kind, one.name or "file", one.read(), mapping) for one in request.FILES.getlist(name)]
    return found


@require_POST
@needs_author
def look(request: HttpRequest) -> HttpResponse:
    """What taking a carrier in would do; nothing is written, the file waits."""
    key = " ".join(request.POST.get("key", "").split())[:100]
    try:
        name, path = chosen(request)
    except ValueError as error:
        return _page(request, {"key": key}, str(error), failed="Nothing was taken in.")
    try:
        found = services.look_into(path.read_bytes(), key)
    except CarrierError as error:
        path.unlink(missing_ok=True)
        return _page(request, {"key": key}, f"{name}: {error}.", failed="Nothing was taken in.")
    return _page(request, {"key": key}, looked=found, name=name,
                 refused=any(part.standing == "refused" for part in found.parts))  # fmt: skip


@require_POST
@needs_author
def take(request: HttpRequest) -> HttpResponse:
    key = request.POST.get("key", "")
    try:
        name, path = chosen(request)
        found = services.carry_in(path.read_bytes(), author_of(request), key)
    except (ValueError, CarrierError, services.Refused, services.Unknown) as error:
        return _page(request, {"key": key}, str(error), failed="Nothing was taken in.")
    path.unlink(missing_ok=True)
    new = sum(part.standing == "new" for part in found.parts)
    messages.success(request, f"{name}: taken in, {new} of {len(found.parts)} parts were new." if found.written
                     else f"{name} was taken in before; nothing was written.")  # fmt: skip
    return HttpResponseRedirect(reverse("carriers"))


@require_safe
def made(request: HttpRequest, sha256: str) -> HttpResponse:
    """A carrier that was made here, as a download."""
    with found_or_404():
        data = services.carrier_file(sha256)
    name = f"carrier-{sha256[:16]}.zip"
    return HttpResponse(data, content_type="application/zip",
                        headers={"Content-Disposition": f'attachment; filename="{name}"'})  # fmt: skip
