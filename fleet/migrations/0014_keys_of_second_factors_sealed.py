"""The second factor's key is sealed in the column where it stood in clear; clear ones are sealed when used next."""

import django_otp.plugins.otp_totp.models
from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0013_hires_by_reference"),
        ("otp_totp", "0003_add_timestamps"),
    ]
    operations = [
        migrations.CreateModel(
            name="SealedDevice",
            fields=[],
            options={"proxy": True, "indexes": [], "constraints": []},
            bases=("otp_totp.totpdevice",),
        ),
    ]
