"""Small things that the stores' pages need."""

from __future__ import annotations

from typing import Any

from django import template

register = template.Library()


@register.simple_tag
def typed_count(typed: Any, row: dict[str, Any]) -> str:
    """What was typed for a line of the count sheet; nothing on a fresh one."""
    return str(typed.get(f"{row['shelf']}|{row['key']}", "")) if typed else ""
