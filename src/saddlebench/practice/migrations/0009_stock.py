"""How saddles in stock stand, written once, row after row."""

import uuid
from typing import Any

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

_SQLITE = (
    """CREATE TRIGGER practice_stockstate_unchanged BEFORE UPDATE ON practice_stockstate
    BEGIN SELECT RAISE(ABORT, 'practice_stockstate: rows are written once and never changed'); END""",
    """CREATE TRIGGER practice_stockstate_kept BEFORE DELETE ON practice_stockstate
    WHEN NOT EXISTS (SELECT 1 FROM practice_openerasure)
    BEGIN SELECT RAISE(ABORT, 'practice_stockstate: rows are kept; only an erasure takes them out'); END""",
)
_POSTGRES = (
    """CREATE TRIGGER practice_stockstate_unchanged BEFORE UPDATE ON practice_stockstate
    FOR EACH ROW EXECUTE FUNCTION practice_unchanged()""",
    """CREATE TRIGGER practice_stockstate_kept BEFORE DELETE ON practice_stockstate
    FOR EACH ROW EXECUTE FUNCTION practice_kept('erasable')""",
    """CREATE TRIGGER practice_stockstate_whole BEFORE TRUNCATE ON practice_stockstate
    FOR EACH STATEMENT EXECUTE FUNCTION practice_unchanged()""",
)


def _id() -> tuple[str, Any]:
    return "id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")


def _link(name: str, to: str) -> tuple[str, Any]:
    return name, models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to=to)


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
                f"DROP TRIGGER practice_stockstate_{name}{' ON practice_stockstate' if is_server else ''}"
            )


class Migration(migrations.Migration):
    dependencies = [
        ("practice", "0008_limits_and_drafts"),
    ]

    operations = [
        migrations.CreateModel(
            name="StockState",
            fields=[
                _id(),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("made_at", models.DateTimeField()),
                ("number", models.PositiveIntegerField()),
                ("stock_number", models.CharField(max_length=40)),
                ("where", models.CharField(max_length=8)),
                ("place", models.CharField(blank=True, max_length=200)),
                ("flap", models.CharField(blank=True, max_length=200)),
                ("flap_mm", models.FloatField(null=True)),
                ("discipline", models.CharField(blank=True, max_length=200)),
                ("condition", models.CharField(blank=True, max_length=200)),
                ("price", models.FloatField(null=True)),
                ("currency", models.CharField(blank=True, max_length=3)),
                ("on_trial_until", models.DateField(null=True)),
                _link("made_by", settings.AUTH_USER_MODEL),
                _optional("reserved_for", "practice.client"),
                _optional("on_trial_with", "practice.client"),
                (
                    "saddle",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="stock_states",
                        to="practice.saddle",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("saddle", "number"), name="stock_state_once")
                ],
            },
        ),
        migrations.RunPython(guard, unguard),
    ]
