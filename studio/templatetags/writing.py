"""Lengths, money and days as the studio writes them."""

from base64 import b64encode
from datetime import date, datetime
from decimal import Decimal

from babel.dates import format_date
from babel.numbers import format_currency
from django import template
from django.template import Context

from studio.measure import write_amount, write_cut, write_diameter, write_length
from studio.models import Studio

register = template.Library()


def studio_of(context: Context) -> Studio:
    studio: Studio = context.get("studio") or context["request"].access.studio
    return studio


@register.simple_tag(takes_context=True)
def length(context: Context, value_m: float | None, empty: str = "not measured") -> str:
    return empty if value_m is None else write_length(value_m, studio_of(context).units)  # type: ignore[arg-type]


@register.simple_tag(takes_context=True)
def across(context: Context, value_m: float) -> str:
    """A balloon's diameter."""
    return write_diameter(value_m, studio_of(context).units)  # type: ignore[arg-type]


@register.simple_tag(takes_context=True)
def cut(context: Context, value_mm: int) -> str:
    return write_cut(value_mm, studio_of(context).units)  # type: ignore[arg-type]


@register.simple_tag(takes_context=True)
def amount(context: Context, value: Decimal, unit: str) -> str:
    return write_amount(Decimal(value), unit, studio_of(context).units)  # type: ignore[arg-type]


@register.simple_tag(takes_context=True)
def money(context: Context, value: object) -> str:
    """A Money, a Decimal or its text in the studio's currency."""
    studio = studio_of(context)
    amount = getattr(value, "amount", value)
    return str(
        format_currency(
            Decimal(str(amount)), studio.currency, locale=studio.language.replace("-", "_")
        )
    )


@register.simple_tag(takes_context=True)
def day(context: Context, value: date | datetime | str) -> str:
    """A day; of a moment the one that the studio's own calendar shows."""
    studio = studio_of(context)
    when = date.fromisoformat(value) if isinstance(value, str) else value
    when = studio.day_of(when) if isinstance(when, datetime) else when
    return str(format_date(when, "long", locale=studio.language.replace("-", "_")))


@register.filter(expects_localtime=True)
def moment(value: datetime) -> str:
    """A moment for `datetime="…"`: whole seconds with their offset (HTML, "valid global date and time string")."""
    return value.isoformat(timespec="seconds")


@register.filter
def inside(png: bytes) -> str:
    """A PNG as an address that carries it: a paper keeps the logo it was sent with."""
    return f"data:image/png;base64,{b64encode(bytes(png)).decode()}"


@register.filter
def at(values: dict[int, str], key: int) -> str:
    return values.get(key, "")


@register.filter
def plain(value: Decimal) -> str:
    """A quantity without needless zeros."""
    return f"{Decimal(value).normalize():f}"


@register.simple_tag(takes_context=True)
def unit_price(context: Context, price: object) -> str:
    """One piece or metre of a pack."""
    one = Decimal(price.pack_price) / Decimal(price.pack_count)  # type: ignore[attr-defined]
    return str(fine_money(context, one))


@register.simple_tag(takes_context=True)
def fine_money(context: Context, value: Decimal) -> str:
    """An exact amount, to four decimals where it takes them."""
    studio = studio_of(context)
    return str(
        format_currency(
            Decimal(value),
            studio.currency,
            "¤#,##0.00##",
            locale=studio.language.replace("-", "_"),
            currency_digits=False,
        )
    )


@register.simple_tag
def percent_of(share: Decimal) -> str:
    return f"{(share * 100).normalize():f} %"
