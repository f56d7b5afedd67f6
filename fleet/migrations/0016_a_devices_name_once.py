"""A name is one open token's at a site. Where two had the same, the later one gets its number behind the name."""

from django.db import migrations, models

LONGEST = 60


def number_the_same(apps, schema_editor):
    tokens = apps.get_model("fleet", "DeviceToken").objects
    taken = set()
    for token in tokens.filter(revoked_at=None).order_by("pk"):
        if (token.site_id, token.name) in taken:
            ending = f" ({token.pk})"
            token.name = token.name[: LONGEST - len(ending)] + ending
            tokens.filter(pk=token.pk).update(name=token.name)
        taken.add((token.site_id, token.name))


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0015_holds_keep_their_sentences"),
    ]

    operations = [
        migrations.RunPython(number_the_same, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name="devicetoken",
            constraint=models.UniqueConstraint(
                condition=models.Q(("revoked_at", None)), fields=("site", "name"), name="device_token_name_once"
            ),
        ),
    ]
