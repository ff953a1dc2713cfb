"""Keys, packs sent and taken, where taken records came from, and links to packs."""

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("practice", "0011_comparisons"),
    ]

    operations = [
        migrations.CreateModel(
            name="Partner",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("label", models.CharField(max_length=200)),
                ("their_practice", models.UUIDField(null=True)),
                ("line", models.CharField(max_length=400)),
                ("fingerprint", models.CharField(max_length=40)),
                ("trusted_at", models.DateTimeField()),
                ("ended_at", models.DateTimeField(null=True)),
                (
                    "practice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="practice.practice"
                    ),
                ),
                (
                    "trusted_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="PracticeKey",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("line", models.CharField(max_length=400)),
                ("fingerprint", models.CharField(max_length=40)),
                ("made_at", models.DateTimeField()),
                ("ended_at", models.DateTimeField(null=True)),
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
        ),
        migrations.CreateModel(
            name="SentPack",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("label", models.CharField(max_length=200)),
                ("answers", models.UUIDField(null=True)),
                ("made_at", models.DateTimeField()),
                ("sha256", models.CharField(max_length=64)),
                ("size_bytes", models.PositiveBigIntegerField()),
                ("is_sealed", models.BooleanField()),
                ("holds", models.JSONField(default=dict)),
                ("deleted_at", models.DateTimeField(null=True)),
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
                (
                    "recipient",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="practice.partner",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="PackLink",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("digest", models.CharField(max_length=64, unique=True)),
                ("made_at", models.DateTimeField()),
                ("expires_at", models.DateTimeField()),
                ("ended_at", models.DateTimeField(null=True)),
                ("most_uses", models.PositiveIntegerField()),
                ("uses", models.PositiveIntegerField(default=0)),
                ("used_at", models.DateTimeField(null=True)),
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
                (
                    "pack",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="links",
                        to="practice.sentpack",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="TakenPack",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("pack_uuid", models.UUIDField()),
                ("sender_label", models.CharField(max_length=200)),
                ("sender_person", models.CharField(blank=True, max_length=200)),
                ("fingerprint", models.CharField(max_length=40)),
                ("sent_at", models.DateTimeField()),
                ("taken_at", models.DateTimeField()),
                ("tag_manifest_sha256", models.CharField(max_length=64)),
                ("proof", models.JSONField()),
                ("answers", models.UUIDField(null=True)),
                ("message", models.TextField(blank=True)),
                ("work_done", models.JSONField(default=list)),
                ("questions", models.JSONField(default=list)),
                (
                    "partner",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="practice.partner",
                    ),
                ),
                (
                    "practice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="practice.practice"
                    ),
                ),
                (
                    "taken_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="TakenRecord",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("subject", models.CharField(max_length=16)),
                ("origin_uuid", models.UUIDField()),
                ("local_uuid", models.UUIDField()),
                ("sha256", models.CharField(blank=True, max_length=64)),
                (
                    "pack",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="records",
                        to="practice.takenpack",
                    ),
                ),
                (
                    "practice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="practice.practice"
                    ),
                ),
            ],
        ),
        migrations.AddConstraint(
            model_name="partner",
            constraint=models.UniqueConstraint(fields=("practice", "line"), name="a_key_is_known_once"),
        ),
        migrations.AddConstraint(
            model_name="practicekey",
            constraint=models.UniqueConstraint(
                condition=models.Q(("ended_at", None)), fields=("practice",), name="one_key_at_a_time"
            ),
        ),
        migrations.AddIndex(
            model_name="sentpack",
            index=models.Index(fields=["practice", "made_at"], name="practice_se_practic_8cf5e7_idx"),
        ),
        migrations.AddConstraint(
            model_name="takenpack",
            constraint=models.UniqueConstraint(
                fields=("practice", "tag_manifest_sha256"), name="a_pack_is_taken_once"
            ),
        ),
        migrations.AddIndex(
            model_name="takenrecord",
            index=models.Index(fields=["practice", "local_uuid"], name="practice_ta_practic_4ccfd1_idx"),
        ),
        migrations.AddConstraint(
            model_name="takenrecord",
            constraint=models.UniqueConstraint(
                fields=("practice", "subject", "origin_uuid", "sha256"), name="a_record_comes_once"
            ),
        ),
    ]
