"""By what a practice chooses saddles."""

from django.db import migrations, models


class Migration(migrations.Migration):
    """Its own weights, sizes and hard limits, every version of them."""

    dependencies = [("practice", "0016_withdrawn_work")]

    operations = [migrations.AddField("practice", "choosing", models.JSONField(default=list))]
