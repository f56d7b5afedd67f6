"""Figures that pages read instead of computing: derived rows, filled by the next night or `manage.py rebuild`."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0015_holds_keep_their_sentences'),
        ('service', '0009_bows_as_guests_find_them'),
    ]

    operations = [
        migrations.CreateModel(
            name='DraftOutlook',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('content', models.JSONField()),
                ('plan', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='outlook', to='service.plan')),
            ],
        ),
        migrations.CreateModel(
            name='LifeToLearn',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('since', models.DateTimeField()),
                ('cord_spec', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='to_learn', to='fleet.cordspec')),
            ],
        ),
        migrations.CreateModel(
            name='SiteCalibration',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('computed_at', models.DateTimeField()),
                ('read_to', models.BigIntegerField()),
                ('report', models.JSONField(null=True)),
                ('site', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='calibration', to='fleet.site')),
            ],
        ),
        migrations.CreateModel(
            name='SpecReport',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('learned_at', models.DateTimeField()),
                ('read_to', models.BigIntegerField()),
                ('report', models.JSONField()),
                ('lives', models.JSONField()),
                ('cord_spec', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='report', to='fleet.cordspec')),
            ],
        ),
        migrations.CreateModel(
            name='WhatIfAnswer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('asked', models.CharField(max_length=300)),
                ('asked_at', models.DateTimeField()),
                ('answered_at', models.DateTimeField(null=True)),
                ('problem', models.TextField(blank=True)),
                ('answer', models.JSONField(null=True)),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='fleet.site')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('site', 'asked'), name='what_if_once')],
            },
        ),
        migrations.CreateModel(
            name='YearsAhead',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('as_of', models.DateTimeField()),
                ('read_to', models.BigIntegerField()),
                ('years', models.JSONField()),
                ('report', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='years', to='service.specreport')),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='fleet.site')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('site', 'report'), name='years_ahead_once')],
            },
        ),
    ]
