"""The bench minutes that were signed on each bow, added up from an index alone."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("service", "0010_figures_that_pages_read")]

    operations = [
        migrations.AddIndex(
            model_name="workorder",
            index=models.Index(fields=["bow", "signed_at", "minutes"], name="order_bow_signed"),
        ),
    ]
