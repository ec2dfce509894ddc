"""What every page shows: the version, the folder of the records, and under whose name things are written."""

from django.http import HttpRequest

from evenpull import __version__
from evenpull.store import services

AUTHOR_KEY = "author"


def author_of(request: HttpRequest) -> str:
    """The name a person gave on the page "who"; "" when nobody has said it yet."""
    return str(request.session.get(AUTHOR_KEY, ""))


def everywhere(request: HttpRequest) -> dict[str, object]:
    return {"version": __version__, "home": services.home(), "author": author_of(request)}
