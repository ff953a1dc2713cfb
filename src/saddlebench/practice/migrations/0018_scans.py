"""Scans brought to a horse, and their files, written once."""

import uuid
from typing import Any

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

_SQLITE = (
    """CREATE TRIGGER practice_scanfile_unchanged BEFORE UPDATE ON practice_scanfile
    BEGIN SELECT RAISE(ABORT, 'practice_scanfile: rows are written once and never changed'); END""",
    """CREATE TRIGGER practice_scanfile_kept BEFORE DELETE ON practice_scanfile
    WHEN NOT EXISTS (SELECT 1 FROM practice_openerasure)
    BEGIN SELECT RAISE(ABORT, 'practice_scanfile: rows are kept; only an erasure takes them out'); END""",
)
_POSTGRES = (
    """CREATE TRIGGER practice_scanfile_unchanged BEFORE UPDATE ON practice_scanfile
    FOR EACH ROW EXECUTE FUNCTION practice_unchanged()""",
    """CREATE TRIGGER practice_scanfile_kept BEFORE DELETE ON practice_scanfile
    FOR EACH ROW EXECUTE FUNCTION practice_kept('erasable')""",
    """CREATE TRIGGER practice_scanfile_whole BEFORE TRUNCATE ON practice_scanfile
    FOR EACH STATEMENT EXECUTE FUNCTION practice_unchanged()""",
)


def _link(to: str, related: str = "+", *, null: bool = False) -> Any:
    return models.ForeignKey(
        null=null, on_delete=django.db.models.deletion.PROTECT, related_name=related, to=to
    )


def _id() -> tuple[str, Any]:
    return "id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")


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
                f"DROP TRIGGER practice_scanfile_{name}{' ON practice_scanfile' if is_server else ''}"
            )


class Migration(migrations.Migration):
    dependencies = [
        ("practice", "0017_choosing_rules"),
    ]

    operations = [
        migrations.CreateModel(
            name="Scan",
            fields=[
                _id(),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("label", models.CharField(max_length=200)),
                ("revision", models.PositiveIntegerField(default=0)),
                ("made_at", models.DateTimeField()),
                ("withdrawn_at", models.DateTimeField(null=True)),
                ("measured_on", models.DateField()),
                ("up", models.CharField(blank=True, max_length=2)),
                ("head", models.CharField(blank=True, max_length=2)),
                ("unit", models.CharField(blank=True, max_length=2)),
                ("common", models.JSONField(default=list)),
                ("marking", models.JSONField(default=list)),
                ("back", _link("practice.back", null=True)),
                ("horse", _link("practice.horse", "scans")),
                ("made_by", _link(settings.AUTH_USER_MODEL)),
                ("practice", _link("practice.practice")),
                ("visit", _link("practice.visit", "scans", null=True)),
                ("withdrawn_by", _link(settings.AUTH_USER_MODEL, null=True)),
            ],
            options={
                "indexes": [models.Index(fields=["horse", "made_at"], name="scan_of_horse")],
            },
        ),
        migrations.CreateModel(
            name="ScanFile",
            fields=[
                _id(),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("made_at", models.DateTimeField()),
                ("order", models.PositiveSmallIntegerField()),
                ("name", models.CharField(max_length=200)),
                ("suffix", models.CharField(max_length=8)),
                ("sha256", models.CharField(max_length=64)),
                ("size_bytes", models.BigIntegerField()),
                ("made_by", _link(settings.AUTH_USER_MODEL)),
                ("scan", _link("practice.scan", "files")),
            ],
            options={
                "indexes": [models.Index(fields=["sha256"], name="scan_file_by_hash")],
                "constraints": [
                    models.UniqueConstraint(fields=("scan", "order"), name="scan_file_order_once")
                ],
            },
        ),
        migrations.RunPython(guard, unguard),
    ]
