"""What whoever serves, signs or mails cannot do without."""

from __future__ import annotations

from django.conf import settings
from django.core.management.base import CommandError


def lacking() -> list[str]:
    """A sentence for each setting that is missing; none in debug.

    A link made with one secret is shown by that secret only, so none is ever made up.
    """
    return [f"{name}: expected a value outside debug, got nothing." for name in settings.LACKING]


def must_have_secrets() -> None:
    """Raises CommandError where a command that serves, signs or mails lacks something."""
    if sentences := lacking():
        raise CommandError("\n".join(sentences))
