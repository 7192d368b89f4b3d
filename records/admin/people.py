"""People and their roles on farms and in co-ops."""

from typing import Any, ClassVar

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.contrib.auth.forms import UserChangeForm, UserCreationForm
from django.core.exceptions import ValidationError
from django.http import HttpRequest

from orchard.access import Area
from records.admin.base import Doors, RecordAdmin
from records.admin.columns import column
from records.admin.doors import caller_of
from records.admin.filters import LinkFilter
from records.admin.forms import Refusable
from records.admin.links import PlatformInline
from records.admin.password_links import PasswordLinks
from records.admin.plants import FARM
from records.models import CoOpRole, FarmRole, Person
from records.services import saving


class OneEmail(Refusable):
    """People sign in by e-mail address whatever its case, so no two may differ by that alone."""

    def clean_email(self) -> str:
        email: str = self.cleaned_data["email"]
        if Person.objects.filter(email__iexact=email).exclude(pk=self.instance.pk).exists():
            raise ValidationError("Somebody has this e-mail address.", "already-taken")
        return email


class PersonForm(OneEmail, UserChangeForm):
    class Meta(UserChangeForm.Meta):
        model = Person
        field_classes = {}


class NewPersonForm(OneEmail, UserCreationForm):
    class Meta(UserCreationForm.Meta):
        model = Person
        fields = ("email", "name")
        field_classes = {}


class FarmRoleInline(PlatformInline):
    model = FarmRole
    fields = ("farm", "role", "ends_on")
    autocomplete_fields = ("farm",)


class CoOpRoleInline(PlatformInline):
    model = CoOpRole
    fields = ("co_op", "ends_on")
    autocomplete_fields = ("co_op",)


@admin.register(Person)
class PersonAdmin(PasswordLinks, Doors, UserAdmin):
    """Set up by platform admins; others see the names of those with a role on their farms."""

    area = Area.PEOPLE
    added_by_platform = True
    add_form_template: ClassVar[Any] = None
    form: Any = PersonForm
    add_form = NewPersonForm
    fieldsets = (
        (None, {"fields": ("email", "name", "password")}),
        ("In the web admin", {"fields": ("is_active", "is_staff", "is_superuser")}),
        ("Times", {"fields": ("last_login", "date_joined")}),
    )
    add_fieldsets = (
        (
            None,
            {"fields": ("email", "name", "password1", "password2")},
        ),
    )
    readonly_fields = ("last_login", "date_joined")
    filter_horizontal = ()
    inlines = (FarmRoleInline, CoOpRoleInline)
    list_display = ("email", "name", "is_active", "is_staff", "is_superuser", "last_login")
    list_filter = (
        "is_active",
        "is_staff",
        "is_superuser",
        ("farm_roles__farm", LinkFilter),
        ("co_op_roles__co_op", LinkFilter),
        "last_login",
    )
    search_fields = ("email", "name")
    ordering = ("email",)

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return caller_of(request).is_platform_admin

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Who has left is made inactive, so that the records keep the name."""
        return False

    def get_fieldsets(self, request: HttpRequest, obj: Any = None) -> Any:
        if caller_of(request).is_platform_admin:
            return super().get_fieldsets(request, obj)
        return [(None, {"fields": ("email", "name")})]

    def get_list_display(self, request: HttpRequest) -> Any:
        own = caller_of(request).is_platform_admin
        return super().get_list_display(request) if own else ("email", "name")

    def get_list_filter(self, request: HttpRequest) -> Any:
        return super().get_list_filter(request) if caller_of(request).is_platform_admin else ()

    def get_inlines(self, request: HttpRequest, obj: Any) -> Any:
        return self.inlines if obj is not None else ()

    def lookup_allowed(self, lookup: str, value: str, request: HttpRequest | None = None) -> bool:
        """Others than platform admins may not find out by address what the list does not tell."""
        if request is None or not caller_of(request).is_platform_admin:
            return False
        return super().lookup_allowed(lookup, value, request)

    def save_model(self, request: Any, obj: Any, form: Any, change: bool) -> None:
        saving.save(obj)


@admin.register(FarmRole)
class FarmRoleAdmin(RecordAdmin):
    fields = ("farm", "person", "role", "ends_on")
    fixed = ("person",)
    autocomplete_fields = ("farm", "person")
    list_display = (column("person__email", "person"), FARM, "role", "ends_on")
    list_select_related = ("farm", "person")
    list_filter = (("farm", LinkFilter), "role", "ends_on")
    search_fields = ("person__email", "person__name", "farm__code")
    ordering = ("farm__code", "person__email")


@admin.register(CoOpRole)
class CoOpRoleAdmin(RecordAdmin):
    added_by_platform = True
    fields = ("person", "co_op", "ends_on")
    fixed = ("person", "co_op")
    autocomplete_fields = ("person", "co_op")
    list_display = (column("person__email", "person"), column("co_op__code", "co-op"), "ends_on")
    list_select_related = ("person", "co_op")
    list_filter = (("co_op", LinkFilter), "ends_on")
    search_fields = ("person__email", "person__name", "co_op__code", "co_op__name")
    ordering = ("co_op__code", "person__email")
