from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0014_keys_of_second_factors_sealed"),
    ]

    operations = [
        migrations.AlterField(model_name="hold", name="detail", field=models.TextField()),
    ]
