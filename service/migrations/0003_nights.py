import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0008_answers_and_photos_of_a_check'),
        ('service', '0002_creep_learned_per_cord'),
    ]

    operations = [
        migrations.CreateModel(
            name='DigestSent',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('day', models.DateField()),
                ('tried_at', models.DateTimeField()),
                ('sent_at', models.DateTimeField(blank=True, null=True)),
                ('tries', models.PositiveSmallIntegerField(default=1)),
                ('error', models.CharField(blank=True, max_length=300)),
                ('wish', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='sent', to='fleet.digestwish')),
            ],
            options={
                'ordering': ['-day'],
                'constraints': [models.UniqueConstraint(fields=('wish', 'day'), name='digest_sent_once')],
            },
        ),
        migrations.CreateModel(
            name='NightlyRun',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('night', models.DateField()),
                ('started_at', models.DateTimeField()),
                ('ended_at', models.DateTimeField(blank=True, null=True)),
                ('tries', models.PositiveSmallIntegerField(default=0)),
                ('names_erased', models.PositiveIntegerField(default=0)),
                ('error', models.TextField(blank=True)),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='nights', to='fleet.site')),
            ],
            options={
                'ordering': ['-night', 'site'],
                'constraints': [models.UniqueConstraint(fields=('site', 'night'), name='nightly_run_once')],
            },
        ),
    ]
