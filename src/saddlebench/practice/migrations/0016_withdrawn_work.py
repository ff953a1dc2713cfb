"""Plans and choices can be withdrawn; what they say stays written once."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

_SAYS = {
    "practice_plan": (
        "id, uuid, made_at, made_by_id, practice_id, horse_id, saddle_id, study_id, run, label, told, schema_id, "
        "document, sha256, engine_version"
    ),
    "practice_choice": (
        "id, uuid, made_at, made_by_id, practice_id, horse_id, saddle_id, kind, label, asked, document, sha256, "
        "engine_version"
    ),
}
"""Of each table the columns that never change."""


def _guard(editor: BaseDatabaseSchemaEditor, table: str, columns: str) -> None:
    """Set a table's trigger anew; without columns it guards all of them."""
    of = f" OF {columns}" if columns else ""
    if editor.connection.vendor == "postgresql":
        gone = f"DROP TRIGGER {table}_unchanged ON {table}"
        does = "FOR EACH ROW EXECUTE FUNCTION practice_unchanged()"
    else:
        gone = f"DROP TRIGGER {table}_unchanged"
        does = f"BEGIN SELECT RAISE(ABORT, '{table}: rows are written once and never changed'); END"
    with editor.connection.cursor() as cursor:
        cursor.execute(gone)
        cursor.execute(f"CREATE TRIGGER {table}_unchanged BEFORE UPDATE{of} ON {table} {does}")


def guard_what_is_said(_apps: StateApps, editor: BaseDatabaseSchemaEditor) -> None:
    """Let the database refuse a change of what was written, and none of whether it stands."""
    for table, columns in _SAYS.items():
        _guard(editor, table, columns)


def guard_all(_apps: StateApps, editor: BaseDatabaseSchemaEditor) -> None:
    """Let the database refuse every change again."""
    for table in _SAYS:
        _guard(editor, table, "")


def _withdrawn(model: str) -> list[migrations.AddField]:
    who = models.ForeignKey(
        null=True,
        on_delete=django.db.models.deletion.PROTECT,
        related_name="+",
        to=settings.AUTH_USER_MODEL,
    )
    return [
        migrations.AddField(model, "withdrawn_at", models.DateTimeField(null=True)),
        migrations.AddField(model, "withdrawn_by", who),
    ]


class Migration(migrations.Migration):
    dependencies = [("practice", "0015_own_words")]

    operations = [
        *_withdrawn("plan"),
        *_withdrawn("choice"),
        migrations.RunPython(guard_what_is_said, guard_all),
    ]
