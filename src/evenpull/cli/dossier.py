"""Open the dossier (folder and database) for a command. Nothing of it is imported before a command needs it."""

from __future__ import annotations

import os
from pathlib import Path
from types import ModuleType

_HOME = "EVENPULL_HOME"


def use_home(folder: Path) -> None:
    """Name the folder of the dossier for this process; must come before the first use of `services`."""
    os.environ[_HOME] = str(folder.expanduser().absolute())


def author(by: str) -> str:
    """Who writes: the name as given, or with accounts the full name of the account it stands for. Refused for a name
    that no open account has."""
    services()
    from evenpull.store.services import accounts

    return accounts.person(by)


def services() -> ModuleType:
    """The services of the dossier, its database set up and brought up to date."""
    _set_up()
    from evenpull.store import services as found

    found.prepare()
    return found


def unprepared() -> ModuleType:
    """The service that restores a back-up: nothing may be made in the folder before it has looked at it."""
    _set_up()
    from evenpull.store.services import restoring

    return restoring


def _set_up() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "evenpull.store.settings")
    import django
    from django.apps import apps

    if not apps.ready:
        django.setup()
