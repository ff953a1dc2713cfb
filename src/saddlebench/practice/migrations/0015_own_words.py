"""A member's own vocabulary."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("practice", "0014_letterhead")]

    operations = [
        migrations.AddField(
            model_name="membership",
            name="vocabulary",
            field=models.CharField(blank=True, max_length=16, default=""),
            preserve_default=False,
        ),
    ]
