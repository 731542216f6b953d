"""Countries by their two letters (ISO 3166-1 alpha-2), and which one a studio is in. Pure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from babel import Locale, UnknownLocaleError

if TYPE_CHECKING:
    from studio.models import Studio

_NAMES = {code: name for code, name in Locale("en").territories.items() if len(code) == 2}  # CLDR
COUNTRIES = frozenset(_NAMES)
WHERE = "Enter it under Studio, Country."


def country_named(code: str) -> str:
    """A country as an English paper writes it; the letters where they are none.

    >>> country_named("IE"), country_named("")
    ('Ireland', '')
    """
    return str(_NAMES.get(code, code))


def country_of(studio: Studio) -> str:
    """The studio's country: as entered, or that of its language tag; "" where neither says one."""
    return studio.country or country_of_language(studio.language)


def country_of_language(tag: str) -> str:
    """The country that a language tag (BCP 47) names; "" where it names none: a language is no country.

    >>> [country_of_language(tag) for tag in ("en-IE", "zh-Hans-CN", "en", "fr", "es-419")]
    ['IE', 'CN', '', '', '']
    """
    try:
        code = str(Locale.parse(tag.replace("_", "-"), sep="-").territory or "")
    except (UnknownLocaleError, ValueError):
        return ""
    return code if code in COUNTRIES else ""
