"""Each cord keeps its own creep rate; what is computed is computed anew with it at the next refresh."""

from typing import Any

from django.db import migrations, models
from django.utils import timezone


def mark_every_bow(apps: Any, _schema_editor: Any) -> None:
    """Rates of rows computed before are not known: every bow that has such rows waits for its refresh."""
    wears, stale = apps.get_model("service", "CordWear"), apps.get_model("service", "StaleBow")
    waiting = set(stale.objects.values_list("bow_id", flat=True))
    computed = set(wears.objects.values_list("fitting__bow_id", flat=True))
    stale.objects.filter(bow__in=waiting & computed).update(entry="")
    stale.objects.bulk_create(
        (stale(bow_id=pk, since=timezone.now(), entry="") for pk in sorted(computed - waiting)), batch_size=1_000
    )


class Migration(migrations.Migration):
    dependencies = [("service", "0001_computed_and_issued")]

    operations = [
        migrations.AddField("cordwear", "creep_per_month", models.FloatField(default=0.0), preserve_default=False),
        migrations.AddField("cordwear", "creep_log_sd", models.FloatField(default=0.0), preserve_default=False),
        migrations.AddField(
            "cordwear", "creep_pairs", models.PositiveSmallIntegerField(default=0), preserve_default=False
        ),
        migrations.AddField("timingdrift", "assumed", models.JSONField(default=list)),
        migrations.RemoveField("timingdrift", "rests_on_assumed"),
        migrations.RunPython(mark_every_bow, migrations.RunPython.noop),
    ]
