"""Wiring: settings, routes, jobs, access rules and the shared REST behaviour."""

from orchard.celery import app as celery_app

__all__ = ["celery_app"]
