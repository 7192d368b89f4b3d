"""Mail in plain text. Without a mail server none is sent, and links are copied by hand."""

from django.conf import settings
from django.core.mail import EmailMessage
from django.template.loader import render_to_string


def is_set_up() -> bool:
    return bool(settings.EMAIL_HOST)


def send(to: str, subject: str, template: str, **context: object) -> None:
    """Send one mail. OSError (smtplib's errors are) when the server does not take it."""
    text = render_to_string(template, context)
    EmailMessage(subject, text, to=[to]).send()
