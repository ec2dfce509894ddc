"""The libraries of the optional extra `scan`. Whatever reads pictures takes them from here."""

from __future__ import annotations

from importlib import import_module
from typing import Any


class ScanExtraMissingError(ImportError):
    """Scans were to be read, but the libraries for it are not installed."""


def library(name: str) -> Any:
    """Module `name`. Raises ScanExtraMissingError that says how to install it."""
    try:
        return import_module(name)
    except ImportError as error:
        raise ScanExtraMissingError(
            f"Reading scanned cards needs {name}, which cannot be loaded ({error}). "
            "Install the optional extra: pip install 'evenpull[scan]'"
        ) from error


cv2: Any = library("cv2")
pypdfium2: Any = library("pypdfium2")
zxingcpp: Any = library("zxingcpp")
pil_image: Any = library("PIL.Image")
pil_ops: Any = library("PIL.ImageOps")
