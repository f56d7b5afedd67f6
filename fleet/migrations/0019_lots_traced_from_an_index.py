"""Where the cords of a lot are, found without reading a fitting."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("fleet", "0018_few_among_many")]

    operations = [
        migrations.AddIndex(
            model_name="fitting",
            index=models.Index(fields=["cord", "removed_at", "bow"], name="fitting_cord_now"),
        ),
    ]
