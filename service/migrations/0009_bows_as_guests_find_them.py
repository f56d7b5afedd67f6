"""How guests find a bow is kept beside its wear: every bow waits for its refresh, which writes it."""

from typing import Any

import django.db.models.deletion
from django.db import migrations, models
from django.utils import timezone


def mark_every_bow(apps: Any, _schema_editor: Any) -> None:
    """A bow whose row is not there yet is found by no guest: all wait for their refresh."""
    bows, stale = apps.get_model("fleet", "Bow"), apps.get_model("service", "StaleBow")
    in_service = set(bows.objects.filter(retirement=None).values_list("pk", flat=True))
    waiting = set(stale.objects.values_list("bow_id", flat=True))
    stale.objects.filter(bow__in=waiting).update(entry="")
    stale.objects.bulk_create(
        (stale(bow_id=pk, since=timezone.now(), entry="") for pk in sorted(in_service - waiting)), batch_size=1_000
    )


HANDS = [("right", "right hand"), ("left", "left hand")]
KINDS = [("compound", "compound"), ("recurve", "recurve"), ("longbow", "longbow")]


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0015_holds_keep_their_sentences"),
        ("service", "0008_due_list_narrowed_from_its_index"),
    ]

    operations = [
        migrations.CreateModel(
            name="GuestBow",
            fields=[
                (
                    "bow",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="for_guests",
                        serialize=False,
                        to="fleet.bow",
                    ),
                ),
                ("hand", models.CharField(choices=HANDS, max_length=5)),
                ("kind", models.CharField(choices=KINDS, max_length=8)),
                ("draw_from_m", models.FloatField()),
                ("draw_to_m", models.FloatField()),
                ("weight_from_n", models.FloatField()),
                ("weight_to_n", models.FloatField()),
                ("used", models.FloatField()),
                ("per_shot", models.FloatField()),
                ("per_day", models.FloatField()),
                ("complete", models.BooleanField()),
                (
                    "site",
                    models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name="+", to="fleet.site"),
                ),
            ],
        ),
        migrations.CreateModel(
            name="ProposedBows",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("made_at", models.DateTimeField()),
                ("most_served", models.BooleanField()),
                ("lines", models.JSONField(default=dict)),
                (
                    "site",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE, related_name="proposed", to="fleet.site"
                    ),
                ),
            ],
        ),
        migrations.RunPython(mark_every_bow, migrations.RunPython.noop),
    ]
