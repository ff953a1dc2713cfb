"""A practice's own limits, written once; unrecorded numbers of saddles; saddles taken off a visit."""

import uuid
from typing import Any

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

_SQLITE = (
    """CREATE TRIGGER practice_ownlimit_unchanged BEFORE UPDATE ON practice_ownlimit
    BEGIN SELECT RAISE(ABORT, 'practice_ownlimit: rows are written once and never changed'); END""",
    """CREATE TRIGGER practice_ownlimit_kept BEFORE DELETE ON practice_ownlimit
    WHEN NOT EXISTS (SELECT 1 FROM practice_openerasure)
    BEGIN SELECT RAISE(ABORT, 'practice_ownlimit: rows are kept; only an erasure takes them out'); END""",
)
_POSTGRES = (
    """CREATE TRIGGER practice_ownlimit_unchanged BEFORE UPDATE ON practice_ownlimit
    FOR EACH ROW EXECUTE FUNCTION practice_unchanged()""",
    """CREATE TRIGGER practice_ownlimit_kept BEFORE DELETE ON practice_ownlimit
    FOR EACH ROW EXECUTE FUNCTION practice_kept('erasable')""",
    """CREATE TRIGGER practice_ownlimit_whole BEFORE TRUNCATE ON practice_ownlimit
    FOR EACH STATEMENT EXECUTE FUNCTION practice_unchanged()""",
)


def _id() -> tuple[str, Any]:
    return "id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")


def _link(name: str, to: str) -> tuple[str, Any]:
    return name, models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to=to)


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
                f"DROP TRIGGER practice_ownlimit_{name}{' ON practice_ownlimit' if is_server else ''}"
            )


class Migration(migrations.Migration):
    dependencies = [
        ("practice", "0007_token_expiry"),
    ]

    operations = [
        migrations.AddField(
            model_name="visitsaddle", name="taken_off_at", field=models.DateTimeField(null=True)
        ),
        migrations.CreateModel(
            name="OwnLimit",
            fields=[
                _id(),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("made_at", models.DateTimeField()),
                ("finding", models.CharField(max_length=80)),
                ("measure", models.CharField(max_length=80)),
                ("part", models.CharField(blank=True, max_length=8)),
                ("families", models.JSONField()),
                ("ends", models.JSONField(null=True)),
                _link("made_by", settings.AUTH_USER_MODEL),
                _link("practice", "practice.practice"),
            ],
            options={
                "indexes": [models.Index(fields=["practice", "id"], name="practice_ow_practic_56827a_idx")],
            },
        ),
        migrations.CreateModel(
            name="SaddleDraft",
            fields=[
                _id(),
                ("saved_at", models.DateTimeField()),
                ("family", models.CharField(max_length=24)),
                ("seen", models.PositiveIntegerField()),
                ("texts", models.JSONField()),
                _link("made_by", settings.AUTH_USER_MODEL),
                _link("practice", "practice.practice"),
                (
                    "saddle",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="drafts",
                        to="practice.saddle",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("saddle", "made_by"), name="one_draft_of_a_saddle_each")
                ],
            },
        ),
        migrations.RunPython(guard, unguard),
    ]
