"""What a person stated as level in a scan."""

from django.db import migrations, models


class Migration(migrations.Migration):
    """Add the statement to scans; of those there are, none was made."""

    dependencies = [("practice", "0019_saddle_scans")]

    operations = [
        migrations.AddField(
            model_name="scan",
            name="level_by",
            field=models.CharField(blank=True, default="", max_length=16),
        ),
    ]
