"""Counting what must not be tried too often: in the database, so that every process counts in one place.

Passwords (OWASP, "Slow Down Online Guessing Attacks with Device Cookies"): tries are counted for a mail together
with where they come from, never for a mail alone, so that strangers cannot lock anybody out. A browser that signed
in before has a count of its own, whatever strangers do behind the same address.
"""

from __future__ import annotations

import ipaddress
import secrets
from datetime import timedelta

from django.conf import settings
from django.db.models import F
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.crypto import salted_hmac

from studio.models import Tries

TRIES, TRIES_OF_ADDRESS = 8, 100
WINDOW = timedelta(minutes=15)
FORGOTTEN = timedelta(days=1)
KNOWN, KNOWN_DAYS = "known_here", 180


def name_of(*parts: str) -> str:
    """A name that tells nobody whose tries are counted."""
    return salted_hmac("studio.tries", "\n".join(parts), algorithm="sha256").hexdigest()


def is_one_too_many(*parts: str, most: int, window: timedelta = WINDOW) -> bool:
    """Count one try of what `parts` name; whether more than `most` were made since the first, within `window`."""
    name, at = name_of(*parts), timezone.now()
    if Tries.objects.filter(name=name, since__gt=at - window).update(count=F("count") + 1):
        return Tries.objects.filter(name=name, count__gt=most).exists()
    Tries.objects.filter(since__lt=at - FORGOTTEN).delete()
    Tries.objects.update_or_create(name=name, defaults={"count": 1, "since": at})
    return most < 1


def forget_tries(*parts: str) -> None:
    Tries.objects.filter(name=name_of(*parts)).delete()


def address_of(request: HttpRequest) -> str:
    """Where a request comes from: what the outermost of our own proxies saw; of IPv6 the network of 64 bits.

    X-Forwarded-For is believed for as many proxies as ARCHWRIGHT_PROXIES says, from the right: whatever stands
    further left is what a client made up.
    """
    seen = request.META.get("REMOTE_ADDR", "")
    if settings.PROXIES:
        said = [a.strip() for a in request.META.get("HTTP_X_FORWARDED_FOR", "").split(",")]
        seen = said[-settings.PROXIES] if len(said) >= settings.PROXIES else seen
    try:
        address = ipaddress.ip_address(seen)
    except ValueError:
        return str(seen)[:64]
    if isinstance(address, ipaddress.IPv6Address):
        if address.ipv4_mapped:
            return str(address.ipv4_mapped)
        return str(ipaddress.ip_network((address, 64), strict=False))
    return str(address)


def known_here(request: HttpRequest, mail: str) -> str:
    """The name of a browser that signed in with this mail before; "" of any other."""
    kept = request.get_signed_cookie(
        KNOWN, default="", salt=KNOWN, max_age=timedelta(days=KNOWN_DAYS)
    )
    browser, _, whose = (kept or "").partition(":")
    return browser if whose == name_of("whose", mail) else ""


def may_try(request: HttpRequest, mail: str) -> bool:
    """Count a password that is about to be tried; whether it may be."""
    if browser := known_here(request, mail):
        return not is_one_too_many("known", browser, mail, most=TRIES)
    address = address_of(request)
    if is_one_too_many("pair", mail, address, most=TRIES):
        return False
    return not is_one_too_many("address", address, most=TRIES_OF_ADDRESS)


def signed_in_here(request: HttpRequest, response: HttpResponse, mail: str) -> None:
    """The right password: forget the tries before it, and know this browser again."""
    browser = known_here(request, mail) or secrets.token_urlsafe(16)
    forget_tries("known", browser, mail)
    forget_tries("pair", mail, address_of(request))
    response.set_signed_cookie(
        KNOWN, f"{browser}:{name_of('whose', mail)}", salt=KNOWN, max_age=timedelta(days=KNOWN_DAYS),
        httponly=True, samesite="Lax", secure=settings.SESSION_COOKIE_SECURE,
    )  # fmt: skip
