"""How much one file may hold. A file beyond a limit is refused with a message that names the limit and the way out.

The limits keep memory bounded: what becomes a record is held in memory (measured: 1.1 kB a row of 14 cells), the text
of the file itself never is (an XLSX file is).
"""

from __future__ import annotations

MAX_BYTES = 256 * 1024**2  # of a CSV file
MAX_ROWS = 300_000  # lines of a CSV file, rows of a sheet
MAX_LINE = 1_000_000  # characters of one line
MAX_QUOTED_LINES = 100  # lines over which one quoted cell may run
MAX_XLSX_BYTES = 64 * 1024**2  # of an XLSX file as it lies there, packed
MAX_UNPACKED = 256 * 1024**2  # of all XML inside an XLSX file
MAX_MEMBERS = 5_000  # files inside an XLSX file
MAX_CELLS = 4_000_000  # rows times columns of a sheet
MAX_COLUMNS = 2_000
MAX_MERGED = 100_000  # merged areas of a sheet
MAX_MAPPING = 200_000  # characters of a mapping file
MAX_FASTENER = 1_000_000
MAX_WHOLE = 2**53 - 1  # the largest whole number that every JSON reader keeps


def megabytes(size: int) -> str:
    """A size for a message: "300 MB" (1 MB = 1,000,000 bytes)."""
    return f"{size / 1e6:.0f} MB" if size >= 1e6 else f"{size:,} bytes"
