"""Many rows at once, in and out, the fastest way that the drivers of both databases offer; nothing of it is judged."""

from __future__ import annotations

import gc
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from itertools import chain
from typing import Any

from django.db import connection, models

FEWEST_TO_COPY = 200
PARAMETERS = 900  # of one statement, below the limit of every SQLite


def insert(
    model: type[models.Model], columns: Sequence[str], rows: Sequence[tuple[Any, ...]], *, guarded: bool = False
) -> None:
    """Insert rows into the table of a model, values in the order of `columns` (names of the fields). IntegrityError as
    Django raises it; call inside a transaction.

    `guarded`: a trigger looks at each row. SQLite then keeps what every statement could have to take back, which costs
    more than a row, so that many rows go into one statement; without a trigger that would be the slower way.
    """
    if not rows:
        return
    quote = connection.ops.quote_name
    table = quote(model._meta.db_table)
    names = ", ".join(quote(str(model._meta.get_field(name).column)) for name in columns)
    one = "(" + ", ".join(["%s"] * len(columns)) + ")"
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql" and len(rows) >= FEWEST_TO_COPY:
            with connection.wrap_database_errors, cursor.copy(f"COPY {table} ({names}) FROM STDIN") as copy:
                for row in rows:
                    copy.write_row(row)
        elif guarded:
            at_once = max(1, PARAMETERS // len(columns))
            for begin in range(0, len(rows), at_once):
                some = rows[begin : begin + at_once]
                marks = ", ".join([one] * len(some))
                cursor.execute(f"INSERT INTO {table} ({names}) VALUES {marks}", list(chain.from_iterable(some)))
        else:
            cursor.executemany(f"INSERT INTO {table} ({names}) VALUES {one}", rows)


def fetched(found: models.QuerySet[Any, Any], columns: Sequence[str]) -> list[tuple[Any, ...]]:
    """These columns of all rows, as the driver gives them: for texts and numbers, which need no conversion."""
    sql, parameters = found.values_list(*columns).query.sql_with_params()
    with connection.cursor() as cursor:
        cursor.execute(sql, parameters)
        return list(cursor.fetchall())


@contextmanager
def uncollected() -> Iterator[None]:
    """No search for cycles while millions of rows are alive that hold none: it would walk them again and again."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()
