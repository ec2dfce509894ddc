"""What a file really is, from its first bytes, whatever its name says."""

from __future__ import annotations

import zipfile
from typing import BinaryIO

HEAD = 8192
_BEGINNINGS = (
    (b"%PDF-", "a PDF document"),
    (b"\x89PNG\r\n\x1a\n", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF87a", "a GIF picture"),
    (b"GIF89a", "a GIF picture"),
    (b"II*\x00", "a TIFF picture"),
    (b"MM\x00*", "a TIFF picture"),
    (b"\x7fELF", "a program (ELF)"),
    (b"\xcf\xfa\xed\xfe", "a program (Mach-O)"),
    (b"\xca\xfe\xba\xbe", "a program (Mach-O or Java)"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"BZh", "a bzip2 archive"),
    (b"\xfd7zXZ\x00", "an xz archive"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive"),
    (b"Rar!\x1a\x07", "a RAR archive"),
    (b"SQLite format 3\x00", "an SQLite database"),
    (b"PAR1", "a Parquet file"),
    (b"{\\rtf", "a rich text document"),
)
OLD_OFFICE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")


def what_it_is(head: bytes) -> str:
    """Name of a kind of file that is no table, from its first bytes; "" for text and for what is not known."""
    for mark, name in _BEGINNINGS:
        if head.startswith(mark):
            return name
    if head.startswith(b"MZ") and b"\x00" in head[:512]:
        return "a program (Windows)"
    start = head.removeprefix(b"\xef\xbb\xbf").lstrip()[:200].lower()
    if start.startswith((b"<!doctype html", b"<html")):
        return "a web page (HTML)"
    if start.startswith(b"<?xml"):
        return "an XML document"
    return ""


def is_zip(head: bytes) -> bool:
    return head.startswith((b"PK\x03\x04", b"PK\x05\x06"))


def what_zip(stream: BinaryIO) -> str:
    """What kind of ZIP archive: "xlsx", or words for a message."""
    try:
        with zipfile.ZipFile(stream) as archive:
            names = {name.lower() for name in archive.namelist()}
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        return "a damaged ZIP archive or spreadsheet"
    if "xl/workbook.xml" in names:
        return "xlsx"
    if "xl/workbook.bin" in names:
        return "a binary spreadsheet (XLSB)"
    if "content.xml" in names:
        return "an OpenDocument file (ODS or ODT)"
    if any(name.startswith("word/") for name in names):
        return "a text document (DOCX)"
    return "a ZIP archive"


def what_old_office(data: bytes) -> str:
    """An OLE2 container is an old office file, or holds an encrypted new one."""
    return "a spreadsheet protected by a password" if _ENCRYPTED in data else "an old office file (XLS, DOC)"
