"""The one form in which a fact is written, hashed and signed: canonical JSON after RFC 8785, SHA-256."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from hashlib import sha256
from typing import Any

import rfc8785

JsonValue = bool | int | float | str | None | Sequence["JsonValue"] | Mapping[str, "JsonValue"]


class CanonicalError(ValueError):
    """A value that has no canonical JSON form (NaN, an integer beyond 2^53 - 1, a lone surrogate, a date)."""


def canonical(value: Any) -> bytes:
    """Canonical JSON of `value` (None, bool, int, float, str, list/tuple, dict with str keys) as UTF-8.

    Raises CanonicalError for anything that RFC 8785 cannot write; nothing is rounded or replaced to make it fit.
    """
    try:
        return rfc8785.dumps(value)
    except (rfc8785.CanonicalizationError, UnicodeEncodeError) as error:
        raise CanonicalError(f"no canonical JSON form: {error}") from error


def digest(value: Any) -> str:
    """SHA-256 of the canonical JSON, 64 hexadecimal characters."""
    return sha256(canonical(value)).hexdigest()
