"""Long work, kept over a restart."""

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("practice", "0005_opinions_and_tokens"),
    ]

    operations = [
        migrations.CreateModel(
            name="Job",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("role", models.CharField(max_length=16)),
                ("action", models.CharField(max_length=32)),
                ("work", models.CharField(max_length=200)),
                ("arguments", models.JSONField()),
                ("words", models.CharField(max_length=300)),
                ("state", models.CharField(max_length=12)),
                ("done", models.PositiveIntegerField(default=0)),
                ("of", models.PositiveIntegerField(default=0)),
                ("doing", models.CharField(blank=True, default="", max_length=300)),
                ("so_far", models.JSONField(default=list)),
                ("leads_to", models.CharField(blank=True, default="", max_length=300)),
                ("back_to", models.CharField(blank=True, default="", max_length=300)),
                ("said", models.TextField(blank=True, default="")),
                ("asked_at", models.DateTimeField()),
                ("started_at", models.DateTimeField(null=True)),
                ("ended_at", models.DateTimeField(null=True)),
                ("stop_asked_at", models.DateTimeField(null=True)),
                (
                    "asked_by",
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
                    models.Index(fields=["practice", "asked_at"], name="practice_jo_practic_d096a2_idx"),
                    models.Index(fields=["state"], name="practice_jo_state_e9c170_idx"),
                ],
            },
        ),
    ]
