"""Tokens nobody can guess, of which the database keeps only a hash and a salt.

A token is derived from a random salt and the site's secret: it can be made again when it must be shown or
mailed, while the database alone never gives it away.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets

from django.conf import settings

PLACE = "TOKEN-GOES-HERE"  # where a token stands in the shape of an address


def new_salt() -> str:
    return secrets.token_urlsafe(32)


def derive(salt: str) -> str:
    """The token of a salt: 256 bits, safe in an address (RFC 4648 base64url)."""
    key = b"link:" + settings.SECRET_KEY.encode()
    raw = hmac.new(key, salt.encode(), hashlib.sha256).digest()
    return base64.urlsafe_b64encode(raw).decode().rstrip("=")


def digest(token: str) -> str:
    """What is kept of a token."""
    return hashlib.sha256(token.encode()).hexdigest()
