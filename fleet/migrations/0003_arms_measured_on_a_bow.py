"""Arms measured on a bow: who, when, with which tool; one current per arm."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0002_constraints_no_orm_expresses"),
    ]

    operations = [
        migrations.CreateModel(
            name="BowArm",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("end", models.CharField(choices=[("upper", "upper cam"), ("lower", "lower cam")], max_length=5)),
                (
                    "arm",
                    models.CharField(
                        choices=[
                            ("string", "string arm"),
                            ("take_up", "take-up arm"),
                            ("let_out", "let-out arm"),
                            ("hole_travel", "hole travel"),
                            ("mark_radius", "mark radius"),
                        ],
                        max_length=11,
                    ),
                ),
                ("value_m", models.FloatField()),
                ("measured_at", models.DateTimeField()),
                ("superseded_at", models.DateTimeField(blank=True, null=True)),
                (
                    "bow",
                    models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name="arms", to="fleet.bow"),
                ),
                (
                    "measured_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "tool",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="fleet.measuringtool",
                    ),
                ),
            ],
            options={
                "ordering": ["bow", "arm", "-end", "-measured_at"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("superseded_at", None)),
                        fields=("bow", "end", "arm"),
                        name="bow_arm_one_current",
                    )
                ],
            },
        ),
    ]
