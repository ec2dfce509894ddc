"""Loading the tables of this package: TOML files that carry source and status beside their numbers.

Status: "read" = read in a public text of the source; "memory" = recalled from the source, not re-read; "computed" =
computed from the source's formula; "common practice" = no source.
"""

from __future__ import annotations

import tomllib
from functools import lru_cache
from importlib.resources import files
from typing import Any


@lru_cache(maxsize=16)
def table(name: str) -> dict[str, Any]:
    """The table file `name`.toml as a dictionary. Shared: do not change it."""
    return tomllib.loads((files("evenpull.catalogue") / f"{name}.toml").read_text(encoding="utf-8"))


class NotInCatalogue(LookupError):  # noqa: N818 - it is raised as a finding about a name, and reads so
    """Something that the tables do not hold; the message names what they do hold."""

    def __init__(self, what: str, asked: str, allowed: tuple[str, ...], hint: str = "") -> None:
        self.what, self.asked, self.allowed, self.hint = what, asked, allowed, hint
        message = f"{asked!r} is not a {what} in the tables"
        if allowed:
            message += f"; known: {', '.join(allowed)}"
        super().__init__(message + (f" ({hint})" if hint else ""))
