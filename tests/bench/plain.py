"""The service as gunicorn runs it, with one list more: a plain ModelSerializer's."""

import os
from typing import Any

from django.conf import settings
from django.core.wsgi import get_wsgi_application
from django.urls import include, path

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "orchard.settings")
settings.DATABASES["default"]["NAME"] = os.environ["BENCH_DATABASE"]
settings.ROOT_URLCONF = __name__
application = get_wsgi_application()

from rest_framework import generics, renderers, serializers  # noqa: E402 - once set up

from records.models import HarvestWeight  # noqa: E402


class PlainSerializer(serializers.ModelSerializer):
    class Meta:
        model = HarvestWeight
        exclude = ("fingerprint", "tick", "import_key", "links_version", "created_by")


class PlainList(generics.ListAPIView):
    serializer_class = PlainSerializer
    renderer_classes = (renderers.JSONRenderer,)
    pagination_class = None
    filter_backends = ()

    def get_queryset(self) -> Any:
        rows = HarvestWeight.objects.visible_to(self.request.auth).prefetch_related("trees")
        return rows.order_by("created_at", "pk")[:100]


urlpatterns = [path("plain-serializer", PlainList.as_view()), path("", include("orchard.urls"))]
