"""What is said of an error that a person can act on, in the same words on the pages, to programs and by commands."""

from __future__ import annotations

import errno

from django.db import DatabaseError

from evenpull.evidence.sign import KeyFileError
from evenpull.plan.errors import SpecificationError
from evenpull.store.services.errors import Refused, Unknown

_DISK = {
    errno.ENOSPC: (507, "The disk is full.", "Make room on it, then do it again."),
    errno.EDQUOT: (507, "The disk quota is used up.", "Make room, then do it again."),
    errno.EFBIG: (507, "A file grew beyond the limit that this machine sets.", "Raise the limit, then do it again."),
    errno.EROFS: (503, "The disk is read-only.", "Make the folder writable for the user who runs the program."),
    errno.EACCES: (503, "The folder of the records does not let the program read or write there.",
                   "Give the user who runs the program the right to read and write there."),
    errno.ENOENT: (503, "A part of the folder of the records is missing.", "Put it back from your copy."),
}  # fmt: skip
# Words of SQLite and PostgreSQL -> (status, way out).
_DATABASE = (
    (("locked", "lock timeout", "could not obtain lock"), 503,
     "Another program holds the database: a long intake, a copy being made, a check by hand. Wait until it has ended "
     "or end it, then do it again."),
    (("disk is full", "No space left", "disk full", "could not extend"), 507,
     "The disk of the database is full. Make room on it, then do it again."),
    (("disk I/O error",), 507,
     "The disk of the database is full, or it fails. Make room on it and look at the disk, then do it again."),
    (("readonly", "read-only"), 503, "Make the database writable for the user who runs the program."),
    (("malformed", "not a database"), 503, "The database file is damaged. Put it back from your copy."),
    (("",), 503, "Look whether the database file (or server) is there, writable, not in use by another program, and "
     "its disk not full."),
)  # fmt: skip


def told(error: BaseException) -> tuple[int, str, str] | None:
    """(status of HTTP, what is wrong, way out) of an error a person can act on; None for a fault of the program."""
    if isinstance(error, Unknown):
        return 404, str(error), ""
    if isinstance(error, Refused | SpecificationError):
        return 409, str(error), ""
    if isinstance(error, KeyFileError):
        return 503, f"{error}.", "Without its key this folder cannot be read as signed, nor written to."
    if isinstance(error, DatabaseError):
        said = str(error).strip()
        status, way = next((s, w) for words, s, w in _DATABASE if any(word in said for word in words))
        return status, f"The database refused: {said.rstrip('.')}.", way
    if isinstance(error, OSError) and error.errno in _DISK:
        status, what, way = _DISK[error.errno]
        return status, what + (f" ({error.filename})" if error.filename else ""), way
    return None
