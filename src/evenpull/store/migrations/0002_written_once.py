"""Facts and checkpoints are written once: the database refuses UPDATE, DELETE and (PostgreSQL) TRUNCATE."""

from django.db import migrations

TABLES = ("fact", "checkpoint")


def protect(apps, schema_editor):
    vendor = schema_editor.connection.vendor
    if vendor == "sqlite":
        for table in TABLES:
            for act in ("UPDATE", "DELETE"):
                schema_editor.execute(
                    f"CREATE TRIGGER {table}_no_{act.lower()} BEFORE {act} ON {table} "
                    f"BEGIN SELECT RAISE(ABORT, '{table}: written once; {act} is refused'); END"
                )
            # Without this a row could be exchanged by INSERT OR REPLACE, which fires no DELETE trigger by default.
            column = "seq" if table == "fact" else "size"
            same = f"SELECT 1 FROM {table} WHERE {column} = NEW.{column}"
            if table == "fact":
                same += " OR key = NEW.key"
            schema_editor.execute(
                f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} WHEN EXISTS ({same}) "
                f"BEGIN SELECT RAISE(ABORT, '{table}: UNIQUE constraint: written once; REPLACE is refused'); END"
            )
    elif vendor == "postgresql":
        schema_editor.execute(
            "CREATE FUNCTION written_once() RETURNS trigger LANGUAGE plpgsql AS $$ "
            "BEGIN RAISE EXCEPTION '%: written once; % is refused', TG_TABLE_NAME, TG_OP; END $$",
            params=None,
        )
        for table in TABLES:
            schema_editor.execute(
                f"CREATE TRIGGER {table}_written_once BEFORE UPDATE OR DELETE ON {table} "
                "FOR EACH ROW EXECUTE FUNCTION written_once()"
            )
            schema_editor.execute(
                f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
                "FOR EACH STATEMENT EXECUTE FUNCTION written_once()"
            )
            # ALWAYS: also for a session that calls itself a replica, which skips ordinary triggers.
            for trigger in ("written_once", "no_truncate"):
                schema_editor.execute(f"ALTER TABLE {table} ENABLE ALWAYS TRIGGER {table}_{trigger}")
    else:
        raise NotImplementedError(f"facts can be protected on SQLite and PostgreSQL, not on {vendor}")


class Migration(migrations.Migration):
    dependencies = [("store", "0001_initial")]
    operations = [migrations.RunPython(protect, elidable=False)]
