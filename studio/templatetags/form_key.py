"""The key of a form that makes something; kept when the form comes back with errors."""

import uuid

from django import template
from django.template import Context

register = template.Library()


@register.simple_tag(takes_context=True)
def form_key(context: Context) -> str:
    typed = context["request"].POST.get("form_key", "") if "request" in context else ""
    try:
        return str(uuid.UUID(typed))
    except ValueError:
        return str(uuid.uuid4())
