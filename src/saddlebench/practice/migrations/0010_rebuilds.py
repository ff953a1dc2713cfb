"""Backs being rebuilt on an instrument, and rebuilds as they were measured, written once."""

import uuid
from typing import Any

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

_SQLITE = (
    """CREATE TRIGGER practice_rebuildcheck_unchanged BEFORE UPDATE ON practice_rebuildcheck
    BEGIN SELECT RAISE(ABORT, 'practice_rebuildcheck: rows are written once and never changed'); END""",
    """CREATE TRIGGER practice_rebuildcheck_kept BEFORE DELETE ON practice_rebuildcheck
    WHEN NOT EXISTS (SELECT 1 FROM practice_openerasure)
    BEGIN SELECT RAISE(ABORT, 'practice_rebuildcheck: rows are kept; only an erasure takes them out'); END""",
)
_POSTGRES = (
    """CREATE TRIGGER practice_rebuildcheck_unchanged BEFORE UPDATE ON practice_rebuildcheck
    FOR EACH ROW EXECUTE FUNCTION practice_unchanged()""",
    """CREATE TRIGGER practice_rebuildcheck_kept BEFORE DELETE ON practice_rebuildcheck
    FOR EACH ROW EXECUTE FUNCTION practice_kept('erasable')""",
    """CREATE TRIGGER practice_rebuildcheck_whole BEFORE TRUNCATE ON practice_rebuildcheck
    FOR EACH STATEMENT EXECUTE FUNCTION practice_unchanged()""",
)


def _id() -> tuple[str, Any]:
    return "id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")


def _link(name: str, to: str, related: str = "+") -> tuple[str, Any]:
    return name, models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name=related, to=to)


def _optional(name: str, to: str) -> tuple[str, Any]:
    return name, models.ForeignKey(
        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to=to
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
                f"DROP TRIGGER practice_rebuildcheck_{name}{' ON practice_rebuildcheck' if is_server else ''}"
            )


class Migration(migrations.Migration):
    dependencies = [
        ("practice", "0009_stock"),
    ]

    operations = [
        migrations.AddField(
            model_name="capture",
            name="rebuild_of",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="practice.back",
            ),
        ),
        migrations.AddField(
            model_name="capture", name="rebuild_number", field=models.PositiveIntegerField(null=True)
        ),
        migrations.CreateModel(
            name="Rebuild",
            fields=[
                _id(),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("label", models.CharField(max_length=200)),
                ("revision", models.PositiveIntegerField(default=0)),
                ("made_at", models.DateTimeField()),
                ("withdrawn_at", models.DateTimeField(null=True)),
                ("number", models.PositiveIntegerField()),
                ("instrument", models.TextField()),
                ("tolerance_mm", models.FloatField()),
                ("as_set", models.JSONField(default=dict)),
                _link("back", "practice.back", "rebuilds"),
                _link("horse", "practice.horse", "rebuilds"),
                _link("made_by", settings.AUTH_USER_MODEL),
                _link("practice", "practice.practice"),
                _optional("withdrawn_by", settings.AUTH_USER_MODEL),
            ],
            options={"abstract": False},
        ),
        migrations.CreateModel(
            name="RebuildCheck",
            fields=[
                _id(),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("made_at", models.DateTimeField()),
                ("number", models.PositiveIntegerField()),
                ("capture_uuid", models.UUIDField(null=True)),
                ("measured_on", models.DateField()),
                ("instrument", models.CharField(max_length=200)),
                ("tolerance_mm", models.FloatField()),
                ("document", models.TextField()),
                ("sha256", models.CharField(max_length=64)),
                ("engine_version", models.CharField(max_length=40)),
                _link("back", "practice.back", "rebuild_checks"),
                _link("horse", "practice.horse", "rebuild_checks"),
                _link("made_by", settings.AUTH_USER_MODEL),
                _link("practice", "practice.practice"),
            ],
            options={
                "indexes": [models.Index(fields=["back", "made_at"], name="rebuild_check_of_back")],
            },
        ),
        migrations.RunPython(guard, unguard),
    ]
