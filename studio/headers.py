"""Mail whose addresses in headers stay whole.

Python folds a long header word into encoded words, which a program that reads List-Unsubscribe does not decode:
RFC 2047, section 5 allows them in text only. RFC 5322, section 2.1.1 allows lines up to 998 characters.
"""

from __future__ import annotations

import email.policy
from email.message import EmailMessage as Message
from email.policy import EmailPolicy
from typing import Any

from django.core.mail import EmailMessage

WHOLE = ("list-unsubscribe",)


class Unbroken(EmailPolicy):
    """Folds every header but those that hold nothing but an address."""

    def fold(self, name: str, value: Any) -> str:
        if name.lower() in WHOLE:
            return f"{name}: {value}{self.linesep}"
        folded: str = super().fold(name, value)
        return folded

    def fold_binary(self, name: str, value: Any) -> bytes:
        if name.lower() in WHOLE:
            return self.fold(name, value).encode("ascii")
        return super().fold_binary(name, value)


class Mail(EmailMessage):
    def message(self, *, policy: Any = email.policy.default) -> Message:
        unbroken = Unbroken(linesep=policy.linesep, cte_type=policy.cte_type)
        made: Message = super().message(policy=unbroken)
        return made
