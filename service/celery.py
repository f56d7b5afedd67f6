"""The Celery application: acknowledged late, one task at a time, lost tasks back within seconds."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service.settings")

app = Celery("bracebook")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["service"])
app.autodiscover_tasks(["service"], related_name="upkeep")
