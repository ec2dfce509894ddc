"""What several pages share: who writes, and turning a service's refusal into a message."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from evenpull.store import services
from evenpull.web.context import author_of

View = Callable[..., HttpResponse]


def needs_author(view: View) -> View:
    """Every fact names its author; without a name the person is asked first and comes back."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
        if author_of(request):
            return view(request, *args, **kwargs)
        back = request.path if request.method == "GET" else request.headers.get("referer", "/")
        messages.error(request, "Say who you are first: every record names who made it. Nothing was written.")
        target = f"{reverse('who')}?{urlencode({'next': back})}"
        if request.headers.get("hx-request"):
            return HttpResponse(status=204, headers={"HX-Redirect": target})
        return HttpResponseRedirect(target)

    return guarded


@contextmanager
def found_or_404() -> Iterator[None]:
    """What a service does not know is a page that is not there, with the service's words."""
    try:
        yield
    except services.Unknown as error:
        raise Http404(str(error)) from error


def joint_or_404(joint_id: str) -> services.JointView:
    try:
        return services.joint(joint_id)
    except services.UnknownJoint as error:
        raise Http404(str(error)) from error


def refused(request: HttpRequest, error: Exception, back: str) -> HttpResponse:
    """A refusal of a service, shown on the page the person came from."""
    messages.error(request, str(error))
    return HttpResponseRedirect(back)


def pdf(data: bytes, name: str) -> HttpResponse:
    """A PDF that the browser shows; `name` is that of the file when it is kept."""
    return HttpResponse(
        data, content_type="application/pdf", headers={"Content-Disposition": f'inline; filename="{name}"'}
    )


def kept_pdf(read: Callable[[str], bytes], serial: str) -> HttpResponse:
    """The paper of this serial as it was given out; a page that is not there when there is none."""
    with found_or_404():
        return pdf(read(serial), f"{serial}.pdf")


MOST_TEXT = 2_000_000
TWICE = "This form was sent before and is written; nothing was written a second time."


class BadUploadError(ValueError):
    """An uploaded text file that cannot be used: missing, too large or not UTF-8."""


def small_text(request: HttpRequest, field: str, default_name: str) -> tuple[str, str]:
    """(file name, text) of an uploaded UTF-8 file of at most 2 MB; BadUploadError says what is wrong."""
    upload = request.FILES.get(field)
    if upload is None:
        raise BadUploadError("Choose a file first. Nothing was written.")
    name = upload.name or default_name
    if (upload.size or 0) > MOST_TEXT:
        size = f"{name} has {upload.size} bytes; such a file has at most {MOST_TEXT}."
        raise BadUploadError(f"{size} Nothing was written.")
    try:
        return name, upload.read().decode("utf-8")
    except UnicodeDecodeError as error:
        message = f"{name}: not UTF-8 at byte {error.start}. Save the file as UTF-8. Nothing was written."
        raise BadUploadError(message) from error
