"""A fresh key for a form, and numbers for a script."""

import uuid

from django import template

register = template.Library()


@register.simple_tag
def key() -> str:
    """Return a fresh key under which a form is sent: sent twice, it counts once."""
    return str(uuid.uuid4())


@register.filter
def unlocalized(value: float) -> str:
    """Return a number as a script reads it."""
    return f"{value:g}"
