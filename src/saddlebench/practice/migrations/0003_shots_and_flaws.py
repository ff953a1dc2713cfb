"""A practice's own shot list, and what the check found in a photo until somebody decides about it."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("practice", "0002_written_once")]

    operations = [
        migrations.AddField(
            model_name="practice",
            name="shots",
            field=models.JSONField(default=list),
        ),
        migrations.AddField(
            model_name="photo",
            name="flaws",
            field=models.JSONField(default=list),
        ),
    ]
