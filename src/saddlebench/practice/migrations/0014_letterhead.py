"""What stands above a practice's reports."""

from django.db import migrations, models


class Migration(migrations.Migration):
    """Lines and logo of the letterhead."""

    dependencies = [("practice", "0013_work")]

    operations = [
        migrations.AddField("practice", "letterhead", models.JSONField(default=list)),
        migrations.AddField("practice", "logo", models.TextField(blank=True, default="")),
    ]
