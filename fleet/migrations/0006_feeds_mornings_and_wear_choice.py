import datetime
import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0005_views_and_holds_of_many_bows'),
    ]

    operations = [
        migrations.AddField(
            model_name='site',
            name='bench_opens',
            field=models.TimeField(default=datetime.time(8, 0)),
        ),
        migrations.AddField(
            model_name='site',
            name='wear_choice',
            field=models.CharField(choices=[('level', 'level the wear: the least worn bow that fits'), ('oldest_first', 'use up the most worn bow that fits first')], default='level', max_length=12),
        ),
        migrations.CreateModel(
            name='FeedKey',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('digest', models.CharField(max_length=64, unique=True)),
                ('made_at', models.DateTimeField()),
                ('revoked_at', models.DateTimeField(blank=True, null=True)),
                ('made_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('revoked_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='feed_keys', to='fleet.site')),
                ('technician', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='feed_keys', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-made_at'],
            },
        ),
        migrations.CreateModel(
            name='DigestWish',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('time_zone', models.CharField(max_length=40)),
                ('language', models.CharField(max_length=10)),
                ('hour', models.PositiveSmallIntegerField(default=6, validators=[django.core.validators.MaxValueValidator(23)])),
                ('since', models.DateTimeField()),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='digest_wishes', to=settings.AUTH_USER_MODEL)),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='digest_wishes', to='fleet.site')),
            ],
            options={
                'ordering': ['person', 'site'],
                'constraints': [models.UniqueConstraint(fields=('person', 'site'), name='digest_wish_once_per_site'), models.CheckConstraint(condition=models.Q(('hour__lte', 23)), name='digest_wish_hour_of_the_day')],
            },
        ),
    ]
