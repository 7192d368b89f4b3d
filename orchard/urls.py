"""Addresses: the API, its schema and pages, the web admin, the probes."""

from django.contrib import admin
from django.urls import include, path
from django.views.decorators.http import require_safe
from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerView

from orchard.rest import probes, problems
from planning.api.routes import router as planning_router
from records.api.history import MeView
from records.api.routes import router as records_router
from records.pages.addresses import urlpatterns as pages

urlpatterns = [
    path("admin/", admin.site.urls),
    path("api/schema/", SpectacularAPIView.as_view(), name="schema"),
    path("api/docs/", SpectacularSwaggerView.as_view(url_name="schema"), name="docs"),
    path("api/problems/<slug:code>", require_safe(problems.explain), name="problem"),
    path("api/v1/", include(records_router.urls)),
    path("api/v1/", include(planning_router.urls)),
    path("api/v1/me", MeView.as_view(), name="me"),
    *pages,
    path("livez", require_safe(probes.livez)),
    path("readyz", require_safe(probes.readyz)),
]

handler400 = "orchard.rest.problems.bad_request"
handler403 = "orchard.rest.problems.forbidden"
handler404 = "orchard.rest.problems.not_found"
handler500 = "orchard.rest.problems.server_error"
