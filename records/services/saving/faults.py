"""How a broken rule is told: the field, a sentence, a code."""

from django.core.exceptions import ValidationError


def fault(field: str, text: str, code: str) -> ValidationError:
    return ValidationError({field: ValidationError(text, code=code)})
