"""Opinions given before a fit check answered, written once; and tokens for other programs."""

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

_SQLITE = (
    """CREATE TRIGGER practice_opinion_unchanged BEFORE UPDATE ON practice_opinion
    BEGIN SELECT RAISE(ABORT, 'practice_opinion: rows are written once and never changed'); END""",
    """CREATE TRIGGER practice_opinion_kept BEFORE DELETE ON practice_opinion
    WHEN NOT EXISTS (SELECT 1 FROM practice_openerasure)
    BEGIN SELECT RAISE(ABORT, 'practice_opinion: rows are kept; only an erasure takes them out'); END""",
)
_POSTGRES = (
    """CREATE TRIGGER practice_opinion_unchanged BEFORE UPDATE ON practice_opinion
    FOR EACH ROW EXECUTE FUNCTION practice_unchanged()""",
    """CREATE TRIGGER practice_opinion_kept BEFORE DELETE ON practice_opinion
    FOR EACH ROW EXECUTE FUNCTION practice_kept('erasable')""",
    """CREATE TRIGGER practice_opinion_whole BEFORE TRUNCATE ON practice_opinion
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
                f"DROP TRIGGER practice_opinion_{name}{' ON practice_opinion' if is_server else ''}"
            )


class Migration(migrations.Migration):
    dependencies = [
        ("practice", "0004_measuring"),
    ]

    operations = [
        migrations.CreateModel(
            name="Token",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("label", models.CharField(max_length=200)),
                ("role", models.CharField(max_length=16)),
                ("digest", models.CharField(max_length=64, unique=True)),
                ("made_at", models.DateTimeField()),
                ("ended_at", models.DateTimeField(null=True)),
                ("used_on", models.DateField(null=True)),
                (
                    "practice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="practice.practice"
                    ),
                ),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="tokens",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Opinion",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("made_at", models.DateTimeField()),
                ("study_uuid", models.UUIDField()),
                ("topic", models.CharField(max_length=16)),
                ("judge", models.CharField(max_length=8)),
                ("said", models.CharField(max_length=16)),
                (
                    "horse",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="opinions",
                        to="practice.horse",
                    ),
                ),
                (
                    "made_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "practice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="practice.practice"
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(fields=["practice", "topic"], name="practice_op_practic_96b992_idx")
                ],
                "constraints": [
                    models.UniqueConstraint(fields=("study_uuid", "topic", "judge"), name="one_opinion_each")
                ],
            },
        ),
        migrations.RunPython(guard, unguard),
    ]
