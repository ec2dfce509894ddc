"""The one form in which a fact is written, hashed and signed: canonical JSON after RFC 8785, SHA-256."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from hashlib import sha256
from typing import Any

import orjson
import rfc8785

JsonValue = bool | int | float | str | None | Sequence["JsonValue"] | Mapping[str, "JsonValue"]


class CanonicalError(ValueError):
    """A value that has no canonical JSON form (NaN, an integer beyond 2^53 - 1, a lone surrogate, a date)."""


def canonical(value: Any) -> bytes:
    """Canonical JSON of `value` (None, bool, int, float, str, list/tuple, dict with str keys) as UTF-8.

    Raises CanonicalError for anything that RFC 8785 cannot write; nothing is rounded or replaced to make it fit.
    """
    try:
        return orjson.dumps(_plain(value), option=orjson.OPT_SORT_KEYS)
    except (_BeyondError, orjson.JSONEncodeError):
        pass  # written by the slower library, which knows all of RFC 8785, or refused by it
    try:
        return rfc8785.dumps(value)
    except (rfc8785.CanonicalizationError, UnicodeEncodeError) as error:
        raise CanonicalError(f"no canonical JSON form: {error}") from error


class _BeyondError(Exception):
    """A value that the fast library would not write as RFC 8785 wants it."""


_WHOLE = 2**53  # integers from here on have no exact double


def _plain(value: Any) -> Any:
    """The value such that orjson writes it after RFC 8785: whole floats as integers, keys of ASCII (sorted alike as
    bytes and as UTF-16), floats where both write the shortest digits without exponent."""
    kind = type(value)
    if kind is str or value is None or kind is bool:
        return value
    if kind is int:
        if -_WHOLE < value < _WHOLE:
            return value
    elif kind is float:
        if value.is_integer() and -_WHOLE < value < _WHOLE:
            return int(value)
        if 1e-4 <= abs(value) < 1e15:
            return value
    elif kind is list or kind is tuple:
        return [item if type(item) is str else _plain(item) for item in value]
    elif kind is dict:
        for key in value:
            if type(key) is not str or not key.isascii():
                raise _BeyondError
        return {key: item if type(item) is str else _plain(item) for key, item in value.items()}
    raise _BeyondError


def digest(value: Any) -> str:
    """SHA-256 of the canonical JSON, 64 hexadecimal characters."""
    return sha256(canonical(value)).hexdigest()
