"""The page that fills a block with trees from rows and positions."""

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.admin.widgets import AdminDateWidget
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.template.response import TemplateResponse
from django.urls import URLPattern, path

from records.admin.columns import page_of
from records.admin.doors import caller_of
from records.admin.labels import label
from records.models import Block, Cultivar
from records.services import filling
from records.spans import SpanError, parse_spans


class SpansField(forms.CharField):
    def clean(self, value: Any) -> Any:
        try:
            return parse_spans(super().clean(value))
        except SpanError as error:
            raise ValidationError(str(error), "invalid") from None


class FillingForm(forms.Form):
    rows = SpansField(help_text="Numbers and ranges, such as 1-6, 8.")
    positions = SpansField(help_text="In each of these rows. Gaps are what is not named.")
    cultivar = forms.ModelChoiceField(queryset=Cultivar.objects.none(), required=False)
    rootstock = forms.CharField(max_length=80, required=False)
    planted_on = forms.DateField(required=False, widget=AdminDateWidget())
    keep_existing = forms.BooleanField(
        required=False,
        label="Keep trees that stand there",
        help_text="Else nothing is planted where one place is taken.",
    )

    def __init__(self, *args: Any, block: Block, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        cultivars: Any = self.fields["cultivar"]
        usable = Cultivar.objects.all().usable_on(block.farm_id)
        cultivars.queryset = usable.filter(retired_on=None).order_by("name")

    def planting(self) -> filling.Planting:
        names = ("rows", "positions", "cultivar", "rootstock", "planted_on")
        return filling.Planting(**{name: self.cleaned_data[name] for name in names})


class Fillable:
    """A block's page leads to the form, for whoever may change the block."""

    admin_site: Any
    opts: Any

    def get_urls(self) -> list[URLPattern]:
        parent: Any = super()
        view = self.admin_site.admin_view(self.fill_view)
        return [path("<uuid:key>/fill/", view, name="records_block_fill"), *parent.get_urls()]

    def render_change_form(self, request: Any, context: Any, *args: Any, **kwargs: Any) -> Any:
        parent: Any = super()
        record = context.get("original")
        context["may_fill"] = record is not None and self._may_fill(request, record)
        return parent.render_change_form(request, context, *args, **kwargs)

    def _may_fill(self, request: HttpRequest, block: Block) -> bool:
        admin: Any = self
        may: bool = admin.has_change_permission(request, block)
        return may

    def fill_view(self, request: HttpRequest, key: Any) -> HttpResponse:
        block = Block.objects.visible_to(caller_of(request)).filter(pk=key).first()
        if block is None:
            raise Http404
        if not self._may_fill(request, block):
            raise PermissionDenied
        form = FillingForm(request.POST or None, block=block)
        if request.method == "POST" and form.is_valid() and _fill(request, form, block):
            return HttpResponseRedirect(page_of(Block, block.pk))
        context = {
            **self.admin_site.each_context(request),
            "title": f"Fill {label(block)} with trees",
            "opts": self.opts,
            "filled": block,
            "label": label(block),
            "form": form,
            "media": form.media,
        }
        return TemplateResponse(request, "admin/records/fill.html", context)


def _fill(request: HttpRequest, form: FillingForm, block: Block) -> bool:
    try:
        filled = filling.fill(
            block, form.planting(), keep_existing=form.cleaned_data["keep_existing"]
        )
    except ValidationError as error:
        for name, faults in error.update_error_dict({}).items():
            form.add_error(name if name in form.fields else None, faults)
        return False
    kept = f" {len(filled.kept)} stood there already." if filled.kept else ""
    messages.success(request, f"Trees planted: {filled.created}.{kept}")
    return True
