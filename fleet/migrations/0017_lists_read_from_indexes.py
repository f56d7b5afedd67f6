"""Indexes from which the lists of a large fleet are read, so that they read no row that they do not show."""

from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [("fleet", "0016_a_devices_name_once")]

    operations = [
        migrations.AddIndex(
            model_name="fitting",
            index=models.Index(fields=["bow", "removed_at", "position", "fitted_at"], name="fitting_bow_now"),
        ),
        migrations.AddIndex(
            model_name="signedresult",
            index=models.Index(fields=["bow", "signed_at", "order_number"], name="result_bow_signed"),
        ),
        migrations.AddIndex(
            model_name="stay",
            index=models.Index(fields=["place"], condition=Q(end=None), name="stay_open_by_place"),
        ),
        migrations.AddIndex(
            model_name="shots",
            index=models.Index(
                fields=["bow", "start", "count"], condition=Q(superseded_at=None), name="shots_bow_start_count"
            ),
        ),
        migrations.RemoveIndex(model_name="shots", name="shots_bow_start"),
    ]
