"""What was worked out from several records of a horse, written once; and backs in numbers."""

import uuid
from typing import Any

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

_SQLITE = (
    """CREATE TRIGGER practice_comparison_unchanged BEFORE UPDATE ON practice_comparison
    BEGIN SELECT RAISE(ABORT, 'practice_comparison: rows are written once and never changed'); END""",
    """CREATE TRIGGER practice_comparison_kept BEFORE DELETE ON practice_comparison
    WHEN NOT EXISTS (SELECT 1 FROM practice_openerasure)
    BEGIN SELECT RAISE(ABORT, 'practice_comparison: rows are kept; only an erasure takes them out'); END""",
)
_POSTGRES = (
    """CREATE TRIGGER practice_comparison_unchanged BEFORE UPDATE ON practice_comparison
    FOR EACH ROW EXECUTE FUNCTION practice_unchanged()""",
    """CREATE TRIGGER practice_comparison_kept BEFORE DELETE ON practice_comparison
    FOR EACH ROW EXECUTE FUNCTION practice_kept('erasable')""",
    """CREATE TRIGGER practice_comparison_whole BEFORE TRUNCATE ON practice_comparison
    FOR EACH STATEMENT EXECUTE FUNCTION practice_unchanged()""",
)


def _id() -> tuple[str, Any]:
    return "id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")


def _link(name: str, to: str, related_name: str = "+") -> tuple[str, Any]:
    return name, models.ForeignKey(
        on_delete=django.db.models.deletion.PROTECT, related_name=related_name, to=to
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
                f"DROP TRIGGER practice_comparison_{name}{' ON practice_comparison' if is_server else ''}"
            )


class Migration(migrations.Migration):
    dependencies = [
        ("practice", "0010_rebuilds"),
    ]

    operations = [
        migrations.CreateModel(
            name="BackNumbers",
            fields=[
                _id(),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("version_uuid", models.UUIDField()),
                ("asked", models.CharField(max_length=64)),
                ("numbers", models.JSONField()),
                ("engine_version", models.CharField(max_length=40)),
                _link("horse", "practice.horse", "back_numbers"),
            ],
            options={
                "constraints": [models.UniqueConstraint(fields=("version_uuid",), name="back_numbers_once")],
            },
        ),
        migrations.CreateModel(
            name="Comparison",
            fields=[
                _id(),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("made_at", models.DateTimeField()),
                ("kind", models.CharField(max_length=16)),
                ("label", models.CharField(max_length=200)),
                ("asked", models.CharField(max_length=64)),
                ("made_of", models.JSONField()),
                ("told", models.JSONField()),
                ("schema_id", models.CharField(max_length=200)),
                ("document", models.TextField()),
                ("sha256", models.CharField(max_length=64)),
                ("engine_version", models.CharField(max_length=40)),
                _link("horse", "practice.horse", "comparisons"),
                _link("made_by", settings.AUTH_USER_MODEL),
                _link("practice", "practice.practice"),
            ],
            options={
                "indexes": [models.Index(fields=["horse", "kind"], name="comparison_of_horse")],
                "constraints": [
                    models.UniqueConstraint(fields=("practice", "kind", "asked"), name="comparison_once")
                ],
            },
        ),
        migrations.RunPython(guard, unguard),
    ]
