"""Inserting many rows at once, on both databases the fastest way that their drivers offer; nothing of it is judged."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db import connection, models

FEWEST_TO_COPY = 200


def insert(model: type[models.Model], columns: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> None:
    """Insert rows into the table of a model, values in the order of `columns` (names of the fields). IntegrityError as
    Django raises it; call inside a transaction."""
    if not rows:
        return
    quote = connection.ops.quote_name
    table = quote(model._meta.db_table)
    names = ", ".join(quote(str(model._meta.get_field(name).column)) for name in columns)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql" and len(rows) >= FEWEST_TO_COPY:
            with connection.wrap_database_errors, cursor.copy(f"COPY {table} ({names}) FROM STDIN") as copy:
                for row in rows:
                    copy.write_row(row)
            return
        marks = ", ".join(["%s"] * len(columns))
        cursor.executemany(f"INSERT INTO {table} ({names}) VALUES ({marks})", rows)
