"""The two libraries of the optional extra `fe`, asked for only when they are needed."""

from __future__ import annotations

from importlib import import_module
from typing import Any


class ExtraMissingError(RuntimeError):
    """The solid reference was asked for, but its libraries are not installed."""


def library(name: str) -> Any:
    """Module `name` (gmsh or skfem). Raises `ExtraMissingError` that says how to install it."""
    try:
        return import_module(name)
    except (ImportError, OSError) as error:  # OSError: gmsh is there, a shared library of the system is not
        raise ExtraMissingError(
            f"The solid reference needs {name}, which cannot be loaded ({error}). "
            "Install the optional extra: pip install 'evenpull[fe]'. On Debian gmsh also needs: "
            "apt-get install libglu1-mesa libxrender1 libxcursor1 libxft2 libxinerama1"
        ) from error
