"""What every page shows: the version, the folder of the records, and under whose name things are written."""

import hashlib
import json

from django.http import HttpRequest

from evenpull import __version__
from evenpull.store import services
from evenpull.store.access import SIGNATURE_MEANING

AUTHOR_KEY = "author"
_NOT_CONTENT = ("once", "csrfmiddlewaretoken", "password")


def author_of(request: HttpRequest) -> str:
    """The full name of the account; without accounts the name given on the page "who", "" when nobody has said it."""
    if getattr(request, "guarded", False):
        return str(request.user.full_name) if request.user.is_authenticated else ""
    return str(request.session.get(AUTHOR_KEY, ""))


def once_of(request: HttpRequest) -> str:
    """The key of one filled-in form (see the tag `once`): its mark, what was filled in, and by whom. The same form with
    other content, as after going back, is another one. "" for a form without a mark."""
    mark = request.POST.get("once", "")
    if not mark:
        return ""
    kept = {key: request.POST.getlist(key) for key in sorted(request.POST) if key not in _NOT_CONTENT}
    text = json.dumps([mark, request.path, author_of(request), kept])
    return hashlib.sha256(text.encode()).hexdigest()[:40]


def signed_again(request: HttpRequest) -> bool:
    """Whether the guard has just compared the password that came with this form."""
    return bool(getattr(request, "signed_again", False))


def everywhere(request: HttpRequest) -> dict[str, object]:
    guarded = bool(getattr(request, "guarded", False))
    logged_in = guarded and request.user.is_authenticated
    return {
        "version": __version__,
        "home": "" if guarded and not logged_in else services.home(),  # no paths to whoever is not logged in
        "author": author_of(request),
        "guarded": guarded,
        "role": request.user.role if logged_in else "",
        "meanings": SIGNATURE_MEANING,
    }
