"""A reading as found that was read a second time, however odd it looks."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("service", "0003_nights")]

    operations = [
        migrations.AddField(
            model_name="orderreading",
            name="read_twice",
            field=models.BooleanField(default=False),
        ),
    ]
