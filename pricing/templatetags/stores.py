"""Small things that the stores' pages need."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import template

from pricing.core.names import supply_name

register = template.Library()


@register.simple_tag
def typed_count(typed: Any, row: dict[str, Any]) -> str:
    """What was typed for a line of the count sheet; nothing on a fresh one."""
    return str(typed.get(f"{row['shelf']}|{row['key']}", "")) if typed else ""


@register.filter
def named(key: str) -> str:
    """What people call the supply of a key."""
    return supply_name(key)


@register.filter
def pairs(amounts: Mapping[str, Any]) -> list[tuple[str, Any]]:
    """Keys with their amounts. (A template's own `.items` asks a Counter for the key "items", and gets 0.)"""
    return sorted(amounts.items())
