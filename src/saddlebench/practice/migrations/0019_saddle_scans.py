"""Scans brought to a saddle, written once."""

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

_SQLITE = (
    """CREATE TRIGGER practice_saddlescan_unchanged BEFORE UPDATE ON practice_saddlescan
    BEGIN SELECT RAISE(ABORT, 'practice_saddlescan: rows are written once and never changed'); END""",
    """CREATE TRIGGER practice_saddlescan_kept BEFORE DELETE ON practice_saddlescan
    WHEN NOT EXISTS (SELECT 1 FROM practice_openerasure)
    BEGIN SELECT RAISE(ABORT, 'practice_saddlescan: rows are kept; only an erasure takes them out'); END""",
)
_POSTGRES = (
    """CREATE TRIGGER practice_saddlescan_unchanged BEFORE UPDATE ON practice_saddlescan
    FOR EACH ROW EXECUTE FUNCTION practice_unchanged()""",
    """CREATE TRIGGER practice_saddlescan_kept BEFORE DELETE ON practice_saddlescan
    FOR EACH ROW EXECUTE FUNCTION practice_kept('erasable')""",
    """CREATE TRIGGER practice_saddlescan_whole BEFORE TRUNCATE ON practice_saddlescan
    FOR EACH STATEMENT EXECUTE FUNCTION practice_unchanged()""",
)


def guard(_apps: StateApps, editor: BaseDatabaseSchemaEditor) -> None:
    """Set the triggers."""
    with editor.connection.cursor() as cursor:
        for statement in _POSTGRES if editor.connection.vendor == "postgresql" else _SQLITE:
            cursor.execute(statement)


def unguard(_apps: StateApps, editor: BaseDatabaseSchemaEditor) -> None:
    """Take the triggers out again."""
    is_server = editor.connection.vendor == "postgresql"
    with editor.connection.cursor() as cursor:
        for name in ("unchanged", "kept", *(("whole",) if is_server else ())):
            cursor.execute(
                f"DROP TRIGGER practice_saddlescan_{name}{' ON practice_saddlescan' if is_server else ''}"
            )


class Migration(migrations.Migration):
    dependencies = [
        ("practice", "0018_scans"),
    ]

    operations = [
        migrations.CreateModel(
            name="SaddleScan",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("made_at", models.DateTimeField()),
                ("name", models.CharField(max_length=200)),
                ("suffix", models.CharField(max_length=8)),
                ("sha256", models.CharField(max_length=64)),
                ("size_bytes", models.BigIntegerField()),
                ("unit", models.CharField(max_length=2)),
                (
                    "made_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "saddle",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="scans",
                        to="practice.saddle",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(fields=["saddle", "made_at"], name="scan_of_saddle"),
                    models.Index(fields=["sha256"], name="saddle_scan_by_hash"),
                ],
            },
        ),
        migrations.RunPython(guard, unguard),
    ]
