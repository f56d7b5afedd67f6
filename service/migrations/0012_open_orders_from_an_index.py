"""The few orders of a site that are open, found without reading all that ever were."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("service", "0011_minutes_signed_from_an_index")]

    operations = [
        migrations.AddIndex(
            model_name="workorder",
            index=models.Index(fields=["site", "status"], name="order_site_status"),
        ),
    ]
