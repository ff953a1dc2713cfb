"""The database itself keeps rows of versions, entries and audit as they were written."""

from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

NEVER_CHANGED = (
    "practice_auditrow",
    "practice_entry",
    "practice_advice",
    "practice_backversion",
    "practice_saddleversion",
    "practice_studyversion",
)
# An audit row says nothing about a person, so no erasure needs to reach it.
NEVER_DELETED = ("practice_auditrow",)

_SQLITE = """
CREATE TRIGGER {table}_unchanged BEFORE UPDATE ON {table}
BEGIN SELECT RAISE(ABORT, '{table}: rows are written once and never changed'); END;
CREATE TRIGGER {table}_kept BEFORE DELETE ON {table} WHEN {kept}
BEGIN SELECT RAISE(ABORT, '{table}: rows are kept; only an erasure takes them out'); END;
"""
_SQLITE_KEPT = "NOT EXISTS (SELECT 1 FROM practice_openerasure)"
_POSTGRES_FUNCTIONS = """
CREATE FUNCTION practice_unchanged() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION '%: rows are written once and never changed', TG_TABLE_NAME
  USING ERRCODE = 'integrity_constraint_violation'; END $$;
CREATE FUNCTION practice_kept() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF TG_ARGV[0] = 'erasable' AND EXISTS (SELECT 1 FROM practice_openerasure) THEN RETURN OLD; END IF;
  RAISE EXCEPTION '%: rows are kept; only an erasure takes them out', TG_TABLE_NAME
    USING ERRCODE = 'integrity_constraint_violation';
END $$;
"""
_POSTGRES = """
CREATE TRIGGER {table}_unchanged BEFORE UPDATE ON {table}
  FOR EACH ROW EXECUTE FUNCTION practice_unchanged();
CREATE TRIGGER {table}_kept BEFORE DELETE ON {table}
  FOR EACH ROW EXECUTE FUNCTION practice_kept('{kept}');
CREATE TRIGGER {table}_whole BEFORE TRUNCATE ON {table}
  FOR EACH STATEMENT EXECUTE FUNCTION practice_unchanged();
"""


def _statements(vendor: str) -> list[str]:
    if vendor == "postgresql":
        return [_POSTGRES_FUNCTIONS] + [
            _POSTGRES.format(table=table, kept="never" if table in NEVER_DELETED else "erasable")
            for table in NEVER_CHANGED
        ]
    return [
        _SQLITE.format(table=table, kept="1" if table in NEVER_DELETED else _SQLITE_KEPT)
        for table in NEVER_CHANGED
    ]


def guard(_apps: StateApps, editor: BaseDatabaseSchemaEditor) -> None:
    """Set the triggers."""
    vendor = editor.connection.vendor
    with editor.connection.cursor() as cursor:
        for script in _statements(vendor):
            if vendor == "sqlite":
                for statement in script.strip().split("\nCREATE TRIGGER"):
                    text = statement if statement.startswith("CREATE") else "CREATE TRIGGER" + statement
                    cursor.execute(text)
            else:
                cursor.execute(script)


def unguard(_apps: StateApps, editor: BaseDatabaseSchemaEditor) -> None:
    """Take the triggers out again."""
    on_table = " ON {table}" if editor.connection.vendor == "postgresql" else ""
    names = ("unchanged", "kept", "whole") if on_table else ("unchanged", "kept")
    with editor.connection.cursor() as cursor:
        for table in NEVER_CHANGED:
            for name in names:
                cursor.execute(f"DROP TRIGGER {table}_{name}{on_table.format(table=table)}")
        if on_table:
            cursor.execute("DROP FUNCTION practice_unchanged, practice_kept")


class Migration(migrations.Migration):
    """Triggers on every table that is written once."""

    dependencies = [("practice", "0001_initial")]
    operations = [migrations.RunPython(guard, unguard)]
