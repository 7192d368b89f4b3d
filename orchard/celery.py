"""The Celery application. The broker only wakes workers; PostgreSQL holds what is to be done."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "orchard.settings")

app = Celery("orchard")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
