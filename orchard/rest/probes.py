"""Liveness and readiness, for whatever watches the processes."""

from django.db import OperationalError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, HttpResponse, JsonResponse

from orchard.rest import problems


def livez(request: HttpRequest) -> HttpResponse:
    """The process answers; nothing else is looked at."""
    return JsonResponse({"status": "ok"})


def readyz(request: HttpRequest) -> HttpResponse:
    """The database answers and has every migration. A missing broker only delays jobs."""
    try:
        executor = MigrationExecutor(connection)
        missing = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except OperationalError:
        return _unready(request, "The database does not answer.")
    if missing:
        return _unready(request, "Migrations are missing; run `manage.py migrate`.")
    return JsonResponse({"status": "ok"})


def _unready(request: HttpRequest, detail: str) -> HttpResponse:
    return problems.response("unavailable", detail, request=request, headers={"Retry-After": "5"})
