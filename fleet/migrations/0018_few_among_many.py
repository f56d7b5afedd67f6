"""Indexes for a few rows among very many: bolts that were read, and bows that were left in a vehicle of late."""

from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [("fleet", "0017_lists_read_from_indexes")]

    operations = [
        migrations.AddIndex(
            model_name="resultmeasurement",
            index=models.Index(fields=["result"], condition=Q(kind="limb_bolt_turns"), name="result_bolts_read"),
        ),
        migrations.AddIndex(
            model_name="vehicleparking",
            index=models.Index(fields=["end"], name="parking_end"),
        ),
    ]
