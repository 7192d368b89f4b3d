"""Forms that hold every rule: the database's, the services', and that links stay within a farm."""

from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.db.models import ProtectedError

from records.admin.labels import label


class LabelledChoice(forms.ModelChoiceField):
    def label_from_instance(self, obj: Any) -> str:
        return label(obj)


class LabelledChoices(forms.ModelMultipleChoiceField):
    def label_from_instance(self, obj: Any) -> str:
        return label(obj)


class Refusable(forms.ModelForm):
    """`refusal` is what a first try at saving was refused for, to be shown where it belongs."""

    refusal: ClassVar[ValidationError | None] = None
    # What a service calls a field, where the form has another name for it.
    aliases: ClassVar[dict[str, str]] = {}
    # What has a place of its own on the page, which tells its faults.
    elsewhere: ClassVar[frozenset[str]] = frozenset()

    def _post_clean(self) -> None:
        super()._post_clean()  # type: ignore[misc]  # Django's hook, which the stubs leave out
        if self.refusal is not None:
            self.report(self.refusal)

    def report(self, error: ValidationError) -> None:
        """Show a fault at its field, or above the form where the page lacks that field."""
        known = {text for texts in self.errors.values() for text in texts}
        told: dict[str, Any] = error.update_error_dict({})
        for name, faults in told.items():
            if name in self.elsewhere:
                continue
            field = self.aliases.get(name, name)
            for fault in faults:
                if known.isdisjoint(fault.messages):
                    self.add_error(field if field in self.fields else None, fault)


class RecordForm(Refusable):
    """A record of a farm; `farm_from` names the link whose farm a new one takes."""

    farm_from: ClassVar[str] = ""

    def _post_clean(self) -> None:
        super()._post_clean()
        self._take_farm()
        self._check_same_farm()
        self._check_constraints()

    def _check_constraints(self) -> None:
        """All of them: Django leaves out those over a field that is not on the page."""
        try:
            self.instance.validate_constraints(exclude=set(self.errors))
        except ValidationError as error:
            self.report(error)

    def _take_farm(self) -> None:
        source = self.cleaned_data.get(self.farm_from)
        if source is not None and self.instance._state.adding:
            self.instance.farm = source.farm

    def _check_same_farm(self) -> None:
        farm_id = getattr(self.instance, "farm_id", None)
        for name, value in list(self.cleaned_data.items()):
            owner = getattr(value, "farm_id", None)
            if farm_id is not None and owner is not None and owner != farm_id:
                self.add_error(name, ValidationError("This belongs to another farm.", "other-farm"))


def refusal_of(error: Exception) -> ValidationError:
    """What to tell a person whose record was not saved."""
    if isinstance(error, ValidationError):
        return error
    if isinstance(error, ProtectedError):
        return ValidationError(in_use(error), "in-use")
    diagnosis = getattr(error.__cause__, "diag", None)
    rule = str(getattr(diagnosis, "constraint_name", None) or "a rule of the database")
    return ValidationError(f"Not saved, for this would break: {rule.replace('_', ' ')}.", "clash")


def in_use(error: ProtectedError) -> str:
    kinds = sorted({str(record._meta.verbose_name_plural) for record in error.protected_objects})
    return f"Not deleted, for other records refer to it: {', '.join(kinds)}. Retire it instead."


REFUSALS = (ValidationError, IntegrityError)
