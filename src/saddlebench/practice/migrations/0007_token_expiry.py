"""Tokens that run out by themselves."""

from typing import ClassVar

from django.db import migrations, models


class Migration(migrations.Migration):
    """Adds the last day that a token is good for."""

    dependencies: ClassVar = [("practice", "0006_jobs")]
    operations: ClassVar = [
        migrations.AddField(model_name="token", name="expires_on", field=models.DateField(null=True)),
    ]
