"""What a person sees when a page cannot be given: the reason, that nothing was written, and the way out.

Refusals of the services, a full or read-only disk, a lost key or database, an upload beyond the limits. An error that
is none of these is a fault of the program; its page says so and the trace goes to the server's own output.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from contextlib import suppress

from django.conf import settings
from django.core.exceptions import (
    DisallowedHost,
    RequestDataTooBig,
    TooManyFieldsSent,
    TooManyFilesSent,
)
from django.http import HttpRequest, HttpResponse, JsonResponse, UnreadablePostError
from django.template.loader import render_to_string
from django.views.defaults import page_not_found

from evenpull.intake import MAX_BYTES
from evenpull.store.told import told

MOST_BODY = MAX_BYTES + 1_000_000  # the largest file that intake takes, and the rest of its form
DRAINED = 2 * 1024**3
CHUNK = 1 << 18
NOTHING = "Nothing was written."
PROGRAMS = "/api/"  # what programs ask for; they get JSON of the same shape as every other refusal there

def page(request: HttpRequest, status: int, what: str, way: str = "", *, title: str = "") -> HttpResponse:
    """The page of a refusal, or its answer to a program; it needs neither the database nor a session."""
    writing = request.method not in ("GET", "HEAD")
    if request.path.startswith(PROGRAMS):
        words = " ".join(filter(None, (what, way, NOTHING if writing and NOTHING not in what + way else "")))
        return JsonResponse({"error": words, "faults": []}, status=status)
    values = {"title": title or "This was refused", "what": what, "way": way, "nothing": NOTHING if writing else ""}
    return HttpResponse(render_to_string("web/refused.html", values), status=status)


def drain(request: HttpRequest) -> None:
    """Read and drop what the browser still sends: one that is cut off in the middle shows no page at all."""
    left = DRAINED
    with suppress(UnreadablePostError):  # the browser went away
        while left > 0 and (piece := request.read(CHUNK)):
            left -= len(piece)


class RefusalsMiddleware:
    """Turns refusals of the services into pages, and bodies that are too large away before they are stored."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        text = request.META.get("CONTENT_LENGTH") or "0"
        size = int(text) if text.isascii() and text.isdecimal() and len(text) < 19 else 0
        if size <= MOST_BODY:
            return _for_programs(request, self.get_response(request))
        drain(request)
        return page(
            request, 413,
            f"What was sent has {size / 1e6:.0f} MB; the most one file may have is {MAX_BYTES / 1e6:.0f} MB.",
            "Export a shorter period, or split the file by day or by tool with the heading in each part.",
            title="Too large",
        )  # fmt: skip

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        found = told(error)
        return None if found is None else page(request, *found)


def _for_programs(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    """A method that an address does not take is told in JSON where programs ask."""
    if response.status_code != 405 or not request.path.startswith(PROGRAMS):
        return response
    allowed = response.headers.get("Allow", "")
    answer = page(request, 405, f"This address does not take {request.method}.", f"It takes: {allowed}.")
    answer.headers["Allow"] = allowed
    return answer


def not_here(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Handler of status 404."""
    if request.path.startswith(PROGRAMS):
        return page(request, 404, "This address leads to nothing.", "What there is: /api/1/openapi.json")
    return page_not_found(request, exception)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Handler of status 400: a strange host, a form beyond the limits, a body that is no form."""
    if isinstance(exception, DisallowedHost):
        what = "The pages are not served under the host name that was asked for."
        return page(request, 400, what, "Use 127.0.0.1, or name the host in EVENPULL_HOSTS before starting the pages.")
    drain(request)
    if isinstance(exception, RequestDataTooBig):
        most = settings.DATA_UPLOAD_MAX_MEMORY_SIZE / 1e6
        return page(request, 413, f"The form holds more than {most:.0f} MB of text.", "Shorten it.", title="Too large")
    if isinstance(exception, TooManyFieldsSent | TooManyFilesSent):
        most_fields = settings.DATA_UPLOAD_MAX_NUMBER_FIELDS
        return page(request, 413, f"The form has too many fields; the most is {most_fields:,}.", "Describe it as text.")
    return page(request, 400, "What was sent is no form that can be read, or its file name is too long.",
                "Go back to the page, load it again and send it once more.")  # fmt: skip


def no_token(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form without the token of this browser: sent from elsewhere, or the cookies are off."""
    return page(
        request, 403, "The form did not come from a page of this browser, so it was not acted on.",
        "Allow cookies for this address, load the page again and send the form from there.",
    )  # fmt: skip


def failed(request: HttpRequest) -> HttpResponse:
    """Handler of status 500: also what went wrong before a view was reached, such as an upload on a full disk."""
    found = told(error) if (error := sys.exc_info()[1]) is not None else None
    if found is not None:
        return page(request, *found)
    return page(
        request, 500, "The program met something it was not made for. Acts are written wholly or not at all.",
        "Please report it with what the server printed.", title="A fault of the program",
    )  # fmt: skip
