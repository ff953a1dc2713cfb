"""The first tables."""

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = []

    operations = [
        migrations.CreateModel(
            name="User",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("password", models.CharField(max_length=128, verbose_name="password")),
                ("last_login", models.DateTimeField(blank=True, null=True, verbose_name="last login")),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("email", models.EmailField(max_length=254, unique=True)),
                ("label", models.CharField(max_length=200)),
                ("is_active", models.BooleanField(default=True)),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="OpenErasure",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("opened_at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="Practice",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("label", models.CharField(max_length=200)),
                ("zone", models.CharField(default="UTC", max_length=64)),
                ("vocabulary", models.CharField(default="british", max_length=16)),
                ("made_at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="AuditRow",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("made_at", models.DateTimeField()),
                ("action", models.CharField(max_length=32)),
                ("deed", models.CharField(max_length=48)),
                ("subject", models.CharField(max_length=16)),
                ("subject_uuid", models.UUIDField()),
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
            name="Back",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("label", models.CharField(max_length=200)),
                ("revision", models.PositiveIntegerField(default=0)),
                ("made_at", models.DateTimeField()),
                ("withdrawn_at", models.DateTimeField(null=True)),
                ("measured_on", models.DateField()),
                (
                    "made_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="BackVersion",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("made_at", models.DateTimeField()),
                ("number", models.PositiveIntegerField()),
                ("schema_id", models.CharField(max_length=200)),
                ("document", models.TextField()),
                ("sha256", models.CharField(max_length=64)),
                ("why", models.CharField(blank=True, max_length=200)),
                ("engine_version", models.CharField(max_length=40)),
                (
                    "back",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="versions",
                        to="practice.back",
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
            ],
        ),
        migrations.AddField(
            model_name="back",
            name="current",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="practice.backversion",
            ),
        ),
        migrations.CreateModel(
            name="Client",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("label", models.CharField(max_length=200)),
                ("revision", models.PositiveIntegerField(default=0)),
                ("made_at", models.DateTimeField()),
                ("withdrawn_at", models.DateTimeField(null=True)),
                ("organisation", models.CharField(blank=True, max_length=200)),
                ("email", models.CharField(blank=True, max_length=200)),
                ("phone", models.CharField(blank=True, max_length=40)),
                ("phone_2", models.CharField(blank=True, max_length=40)),
                ("street", models.CharField(blank=True, max_length=200)),
                ("town", models.CharField(blank=True, max_length=200)),
                ("postcode", models.CharField(blank=True, max_length=20)),
                ("country", models.CharField(blank=True, max_length=60)),
                ("guardian", models.CharField(blank=True, max_length=200)),
                ("terms_agreed_on", models.DateField(null=True)),
                ("note", models.TextField(blank=True)),
                (
                    "made_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        null=True,
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
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="Horse",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("label", models.CharField(max_length=200)),
                ("revision", models.PositiveIntegerField(default=0)),
                ("made_at", models.DateTimeField()),
                ("withdrawn_at", models.DateTimeField(null=True)),
                ("registered_name", models.CharField(blank=True, max_length=200)),
                ("microchip", models.CharField(blank=True, max_length=15)),
                ("ueln", models.CharField(blank=True, max_length=15)),
                ("born_in", models.PositiveSmallIntegerField(null=True)),
                ("breed_type", models.CharField(blank=True, max_length=16)),
                ("breed", models.CharField(blank=True, max_length=200)),
                ("colour", models.CharField(blank=True, max_length=200)),
                ("height_cm", models.FloatField(null=True)),
                ("work", models.CharField(blank=True, max_length=16)),
                ("discipline", models.CharField(blank=True, max_length=200)),
                ("rider", models.CharField(blank=True, max_length=200)),
                ("rider_mass_kg", models.FloatField(null=True)),
                ("rider_height_cm", models.FloatField(null=True)),
                ("note", models.TextField(blank=True)),
                ("found_by", models.TextField(blank=True)),
                ("found_by_people", models.TextField(blank=True)),
                (
                    "client",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="horses",
                        to="practice.client",
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
                    "withdrawn_by",
                    models.ForeignKey(
                        null=True,
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
        migrations.AddField(
            model_name="back",
            name="horse",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="backs", to="practice.horse"
            ),
        ),
        migrations.CreateModel(
            name="Membership",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("role", models.CharField(max_length=16)),
                ("made_at", models.DateTimeField()),
                ("ended_at", models.DateTimeField(null=True)),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="memberships",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "practice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="memberships",
                        to="practice.practice",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="ErasureReceipt",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("made_at", models.DateTimeField()),
                ("subject_uuid", models.UUIDField()),
                ("counts", models.JSONField(default=dict)),
                ("sha256", models.CharField(max_length=64)),
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
            name="Entry",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("made_at", models.DateTimeField()),
                ("subject", models.CharField(max_length=16)),
                ("subject_uuid", models.UUIDField()),
                ("key", models.UUIDField()),
                ("field", models.CharField(max_length=80)),
                ("value", models.JSONField(null=True)),
                ("before", models.JSONField(null=True)),
                ("seen", models.PositiveIntegerField()),
                ("revision", models.PositiveIntegerField()),
                ("outcome", models.CharField(max_length=8)),
                (
                    "audit",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="entries",
                        to="practice.auditrow",
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
        ),
        migrations.AddField(
            model_name="back",
            name="practice",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="practice.practice"
            ),
        ),
        migrations.CreateModel(
            name="Saddle",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("label", models.CharField(max_length=200)),
                ("revision", models.PositiveIntegerField(default=0)),
                ("made_at", models.DateTimeField()),
                ("withdrawn_at", models.DateTimeField(null=True)),
                ("holding", models.CharField(default="client", max_length=8)),
                ("family", models.CharField(blank=True, max_length=16)),
                ("maker", models.CharField(blank=True, max_length=200)),
                ("serial", models.CharField(blank=True, max_length=200)),
                ("seat_size_in", models.FloatField(null=True)),
                ("colour", models.CharField(blank=True, max_length=200)),
                ("made_in", models.PositiveSmallIntegerField(null=True)),
                ("where_kept", models.CharField(blank=True, max_length=200)),
                ("note", models.TextField(blank=True)),
                (
                    "client",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="saddles",
                        to="practice.client",
                    ),
                ),
                ("horses", models.ManyToManyField(related_name="saddles", to="practice.horse")),
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
                    "withdrawn_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="SaddleVersion",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("made_at", models.DateTimeField()),
                ("number", models.PositiveIntegerField()),
                ("schema_id", models.CharField(max_length=200)),
                ("document", models.TextField()),
                ("sha256", models.CharField(max_length=64)),
                ("why", models.CharField(blank=True, max_length=200)),
                ("engine_version", models.CharField(max_length=40)),
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
                        related_name="versions",
                        to="practice.saddle",
                    ),
                ),
            ],
        ),
        migrations.AddField(
            model_name="saddle",
            name="current",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="practice.saddleversion",
            ),
        ),
        migrations.CreateModel(
            name="Study",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("label", models.CharField(max_length=200)),
                ("revision", models.PositiveIntegerField(default=0)),
                ("made_at", models.DateTimeField()),
                ("withdrawn_at", models.DateTimeField(null=True)),
                (
                    "horse",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="studies",
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
                (
                    "saddle",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="studies",
                        to="practice.saddle",
                    ),
                ),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="StudyVersion",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("made_at", models.DateTimeField()),
                ("number", models.PositiveIntegerField()),
                ("schema_id", models.CharField(max_length=200)),
                ("document", models.TextField()),
                ("sha256", models.CharField(max_length=64)),
                ("why", models.CharField(blank=True, max_length=200)),
                ("engine_version", models.CharField(max_length=40)),
                (
                    "back_version",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="studies",
                        to="practice.backversion",
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
                    "saddle_version",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="studies",
                        to="practice.saddleversion",
                    ),
                ),
                (
                    "study",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="versions",
                        to="practice.study",
                    ),
                ),
            ],
        ),
        migrations.AddField(
            model_name="study",
            name="current",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="practice.studyversion",
            ),
        ),
        migrations.CreateModel(
            name="Visit",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("label", models.CharField(max_length=200)),
                ("revision", models.PositiveIntegerField(default=0)),
                ("made_at", models.DateTimeField()),
                ("withdrawn_at", models.DateTimeField(null=True)),
                ("date", models.DateField()),
                ("starts_at", models.TimeField(null=True)),
                ("zone", models.CharField(max_length=64)),
                ("purpose", models.CharField(max_length=16)),
                ("state", models.CharField(default="open", max_length=16)),
                (
                    "horse",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="visits",
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
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.AddField(
            model_name="study",
            name="visit",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="studies",
                to="practice.visit",
            ),
        ),
        migrations.CreateModel(
            name="Recheck",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("label", models.CharField(max_length=200)),
                ("revision", models.PositiveIntegerField(default=0)),
                ("made_at", models.DateTimeField()),
                ("withdrawn_at", models.DateTimeField(null=True)),
                ("due_from", models.DateField()),
                ("due_by", models.DateField()),
                ("reason", models.CharField(max_length=16)),
                (
                    "horse",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="rechecks",
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
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "done_visit",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="answers_recheck",
                        to="practice.visit",
                    ),
                ),
                (
                    "visit",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="rechecks",
                        to="practice.visit",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Photo",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("label", models.CharField(max_length=200)),
                ("revision", models.PositiveIntegerField(default=0)),
                ("made_at", models.DateTimeField()),
                ("withdrawn_at", models.DateTimeField(null=True)),
                ("shot", models.CharField(blank=True, max_length=48)),
                ("media_type", models.CharField(max_length=40)),
                ("sha256", models.CharField(max_length=64)),
                ("original_sha256", models.CharField(max_length=64)),
                ("size_bytes", models.PositiveBigIntegerField()),
                ("width_px", models.PositiveIntegerField(null=True)),
                ("height_px", models.PositiveIntegerField(null=True)),
                ("taken_at", models.DateTimeField(null=True)),
                ("kept_anyway", models.JSONField(default=list)),
                ("drawn", models.JSONField(default=list)),
                ("note", models.TextField(blank=True)),
                (
                    "horse",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="photos",
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
                    "withdrawn_by",
                    models.ForeignKey(
                        null=True,
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
                    "saddle",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="photos",
                        to="practice.saddle",
                    ),
                ),
                (
                    "visit",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="photos",
                        to="practice.visit",
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.AddField(
            model_name="back",
            name="visit",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="backs",
                to="practice.visit",
            ),
        ),
        migrations.CreateModel(
            name="Answer",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("subject_uuid", models.UUIDField()),
                ("field", models.CharField(max_length=80)),
                ("value", models.JSONField(null=True)),
                ("revision", models.PositiveIntegerField()),
                ("entered_at", models.DateTimeField()),
                (
                    "entered_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "visit",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="answers",
                        to="practice.visit",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Advice",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("made_at", models.DateTimeField()),
                ("said", models.TextField()),
                ("is_declined", models.BooleanField(default=False)),
                ("declined_by", models.CharField(blank=True, max_length=200)),
                (
                    "made_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "visit",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="advice",
                        to="practice.visit",
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="VisitSaddle",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("order", models.PositiveSmallIntegerField()),
                ("revision", models.PositiveIntegerField(default=0)),
                (
                    "saddle",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="tried_at",
                        to="practice.saddle",
                    ),
                ),
                (
                    "visit",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="tried", to="practice.visit"
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Yard",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("label", models.CharField(max_length=200)),
                ("revision", models.PositiveIntegerField(default=0)),
                ("made_at", models.DateTimeField()),
                ("withdrawn_at", models.DateTimeField(null=True)),
                ("street", models.CharField(blank=True, max_length=200)),
                ("town", models.CharField(blank=True, max_length=200)),
                ("postcode", models.CharField(blank=True, max_length=20)),
                ("country", models.CharField(blank=True, max_length=60)),
                ("ground", models.CharField(blank=True, max_length=200)),
                ("note", models.TextField(blank=True)),
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
                    "withdrawn_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.AddField(
            model_name="visit",
            name="yard",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="visits",
                to="practice.yard",
            ),
        ),
        migrations.AddField(
            model_name="horse",
            name="yard",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="horses",
                to="practice.yard",
            ),
        ),
        migrations.AddConstraint(
            model_name="backversion",
            constraint=models.UniqueConstraint(fields=("back", "number"), name="back_version_once"),
        ),
        migrations.AddConstraint(
            model_name="membership",
            constraint=models.UniqueConstraint(
                condition=models.Q(("ended_at", None)), fields=("practice", "user"), name="one_role_at_a_time"
            ),
        ),
        migrations.AddConstraint(
            model_name="membership",
            constraint=models.CheckConstraint(
                condition=models.Q(("role__in", ["owner", "fitter", "workshop", "reader"])),
                name="role_is_known",
            ),
        ),
        migrations.AddIndex(
            model_name="entry",
            index=models.Index(
                fields=["subject_uuid", "field", "revision"], name="practice_en_subject_606091_idx"
            ),
        ),
        migrations.AddConstraint(
            model_name="entry",
            constraint=models.UniqueConstraint(fields=("subject_uuid", "key"), name="an_entry_counts_once"),
        ),
        migrations.AddIndex(
            model_name="auditrow",
            index=models.Index(fields=["subject_uuid", "made_at"], name="practice_au_subject_40af4c_idx"),
        ),
        migrations.AddIndex(
            model_name="auditrow",
            index=models.Index(fields=["practice", "made_at"], name="practice_au_practic_de95b7_idx"),
        ),
        migrations.AddConstraint(
            model_name="saddleversion",
            constraint=models.UniqueConstraint(fields=("saddle", "number"), name="saddle_version_once"),
        ),
        migrations.AddConstraint(
            model_name="saddle",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "family__in",
                        [
                            "",
                            "panelled",
                            "cut_back",
                            "bars",
                            "side_saddle",
                            "treeless",
                            "flexible_tree",
                            "pad_saddle",
                        ],
                    )
                ),
                name="family_is_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="saddle",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("holding", "stock"), _negated=True), ("client", None), _connector="OR"
                ),
                name="stock_has_no_client",
            ),
        ),
        migrations.AddConstraint(
            model_name="studyversion",
            constraint=models.UniqueConstraint(fields=("study", "number"), name="study_version_once"),
        ),
        migrations.AddIndex(
            model_name="recheck",
            index=models.Index(fields=["practice", "due_by"], name="practice_re_practic_9d1c1e_idx"),
        ),
        migrations.AddConstraint(
            model_name="answer",
            constraint=models.UniqueConstraint(fields=("subject_uuid", "field"), name="one_answer_a_field"),
        ),
        migrations.AddConstraint(
            model_name="visitsaddle",
            constraint=models.UniqueConstraint(fields=("visit", "saddle"), name="saddle_tried_once_a_visit"),
        ),
        migrations.AddIndex(
            model_name="visit",
            index=models.Index(fields=["practice", "date"], name="practice_vi_practic_16350f_idx"),
        ),
        migrations.AddConstraint(
            model_name="visit",
            constraint=models.CheckConstraint(
                condition=models.Q(("state__in", ["planned", "open", "finished"])), name="state_is_known"
            ),
        ),
        migrations.AddConstraint(
            model_name="visit",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("purpose__in", ["first", "recheck", "trial", "complaint", "delivery", "second_opinion"])
                ),
                name="purpose_is_known",
            ),
        ),
        migrations.AddIndex(
            model_name="horse",
            index=models.Index(fields=["practice", "label"], name="practice_ho_practic_976915_idx"),
        ),
        migrations.AddConstraint(
            model_name="horse",
            constraint=models.UniqueConstraint(
                condition=models.Q(("withdrawn_at", None), models.Q(("microchip", ""), _negated=True)),
                fields=("practice", "microchip"),
                name="one_horse_a_microchip",
            ),
        ),
        migrations.AddConstraint(
            model_name="horse",
            constraint=models.UniqueConstraint(
                condition=models.Q(("withdrawn_at", None), models.Q(("ueln", ""), _negated=True)),
                fields=("practice", "ueln"),
                name="one_horse_a_life_number",
            ),
        ),
    ]
