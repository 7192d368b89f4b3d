"""The web admin's site: its words, and choices that say which farm and block they belong to."""

from typing import Any

from django.contrib import admin
from django.contrib.admin.views.autocomplete import AutocompleteJsonView
from django.http import HttpRequest


class LabelledChoices(AutocompleteJsonView):
    """Choices as their own page names them: a bare "3/4" could be a tree of any block."""

    model_admin: Any

    def serialize_result(self, obj: Any, to_field_name: str) -> dict[str, str]:
        result: dict[str, str] = super().serialize_result(obj, to_field_name)
        return {**result, "text": self.model_admin.label(obj)}


class Site(admin.AdminSite):
    site_header = "Orchard records"
    site_title = "Orchard records"
    index_title = "Farms, plants and harvests"
    site_url = "/api/docs/"

    def __init__(self, name: str = "admin") -> None:
        super().__init__(name)
        # Records are retired rather than deleted, and what is deleted goes one by one.
        self.disable_action("delete_selected")

    def autocomplete_view(self, request: HttpRequest) -> Any:
        return LabelledChoices.as_view(admin_site=self)(request)
