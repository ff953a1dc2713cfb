"""Plans, work orders with their states, and choices from the stock."""

import uuid
from typing import Any

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

_ONCE = ("practice_plan", "practice_orderstate", "practice_choice")


def _sqlite(table: str) -> tuple[str, ...]:
    return (
        f"""CREATE TRIGGER {table}_unchanged BEFORE UPDATE ON {table}
        BEGIN SELECT RAISE(ABORT, '{table}: rows are written once and never changed'); END""",
        f"""CREATE TRIGGER {table}_kept BEFORE DELETE ON {table}
        WHEN NOT EXISTS (SELECT 1 FROM practice_openerasure)
        BEGIN SELECT RAISE(ABORT, '{table}: rows are kept; only an erasure takes them out'); END""",  # noqa: S608
    )


def _postgres(table: str) -> tuple[str, ...]:
    return (
        f"""CREATE TRIGGER {table}_unchanged BEFORE UPDATE ON {table}
        FOR EACH ROW EXECUTE FUNCTION practice_unchanged()""",
        f"""CREATE TRIGGER {table}_kept BEFORE DELETE ON {table}
        FOR EACH ROW EXECUTE FUNCTION practice_kept('erasable')""",
        f"""CREATE TRIGGER {table}_whole BEFORE TRUNCATE ON {table}
        FOR EACH STATEMENT EXECUTE FUNCTION practice_unchanged()""",
    )


def guard(_apps: StateApps, editor: BaseDatabaseSchemaEditor) -> None:
    """Set the triggers."""
    statements = _postgres if editor.connection.vendor == "postgresql" else _sqlite
    with editor.connection.cursor() as cursor:
        for table in _ONCE:
            for statement in statements(table):
                cursor.execute(statement)


def unguard(_apps: StateApps, editor: BaseDatabaseSchemaEditor) -> None:
    """Take the triggers out again."""
    is_server = editor.connection.vendor == "postgresql"
    with editor.connection.cursor() as cursor:
        for table in _ONCE:
            for name in ("unchanged", "kept", *(("whole",) if is_server else ())):
                cursor.execute(f"DROP TRIGGER {table}_{name}{f' ON {table}' if is_server else ''}")


def _id() -> tuple[str, Any]:
    return "id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")


def _uuid() -> tuple[str, Any]:
    return "uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)


def _link(name: str, to: str, related: str = "+", *, null: bool = False) -> tuple[str, Any]:
    return name, models.ForeignKey(
        null=null, on_delete=django.db.models.deletion.PROTECT, related_name=related, to=to
    )


class Migration(migrations.Migration):
    dependencies = [
        ("practice", "0012_packs"),
    ]

    operations = [
        migrations.CreateModel(
            name="Plan",
            fields=[
                _id(),
                _uuid(),
                ("made_at", models.DateTimeField()),
                ("run", models.PositiveIntegerField()),
                ("label", models.CharField(max_length=200)),
                ("told", models.JSONField()),
                ("schema_id", models.CharField(max_length=200)),
                ("document", models.TextField()),
                ("sha256", models.CharField(max_length=64)),
                ("engine_version", models.CharField(max_length=40)),
                _link("horse", "practice.horse", "plans"),
                _link("made_by", settings.AUTH_USER_MODEL),
                _link("practice", "practice.practice"),
                _link("saddle", "practice.saddle", "plans"),
                _link("study", "practice.study", "plans"),
            ],
            options={"indexes": [models.Index(fields=["practice", "study"], name="plans_of_study")]},
        ),
        migrations.CreateModel(
            name="WorkOrder",
            fields=[
                _id(),
                _uuid(),
                ("label", models.CharField(max_length=200)),
                ("revision", models.PositiveIntegerField(default=0)),
                ("made_at", models.DateTimeField()),
                ("withdrawn_at", models.DateTimeField(null=True)),
                ("plan_uuid", models.UUIDField()),
                ("number", models.CharField(max_length=40)),
                ("step", models.CharField(max_length=20)),
                ("due_on", models.DateField(null=True)),
                _link("horse", "practice.horse", "orders"),
                _link("made_by", settings.AUTH_USER_MODEL),
                _link("practice", "practice.practice"),
                _link("saddle", "practice.saddle", "orders"),
                _link("withdrawn_by", settings.AUTH_USER_MODEL, null=True),
                _link("workshop", "practice.membership", null=True),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("practice", "number"), name="order_number_once")
                ],
                "indexes": [models.Index(fields=["practice", "step", "due_on"], name="orders_by_step")],
            },
        ),
        migrations.CreateModel(
            name="OrderState",
            fields=[
                _id(),
                _uuid(),
                ("made_at", models.DateTimeField()),
                ("number", models.PositiveIntegerField()),
                ("step", models.CharField(max_length=20)),
                ("said", models.CharField(blank=True, max_length=500)),
                ("mended", models.JSONField(default=list)),
                ("checked_mm", models.JSONField(default=list)),
                ("schema_id", models.CharField(max_length=200)),
                ("document", models.TextField()),
                ("sha256", models.CharField(max_length=64)),
                _link("made_by", settings.AUTH_USER_MODEL),
                _link("order", "practice.workorder", "states"),
            ],
            options={
                "constraints": [models.UniqueConstraint(fields=("order", "number"), name="order_state_once")],
            },
        ),
        migrations.CreateModel(
            name="Choice",
            fields=[
                _id(),
                _uuid(),
                ("made_at", models.DateTimeField()),
                ("kind", models.CharField(max_length=16)),
                ("label", models.CharField(max_length=200)),
                ("asked", models.JSONField()),
                ("document", models.TextField()),
                ("sha256", models.CharField(max_length=64)),
                ("engine_version", models.CharField(max_length=40)),
                _link("horse", "practice.horse", "choices", null=True),
                _link("made_by", settings.AUTH_USER_MODEL),
                _link("practice", "practice.practice"),
                _link("saddle", "practice.saddle", "choices", null=True),
            ],
            options={"indexes": [models.Index(fields=["practice", "kind"], name="choices_by_kind")]},
        ),
        migrations.RunPython(guard, unguard),
    ]
