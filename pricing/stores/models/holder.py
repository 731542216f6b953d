"""For whom stock and kit are held, as far as the stores know them."""

from __future__ import annotations

from django.db import models

from studio.models import StudioRow


class Holder(StudioRow):
    """What stock is reserved and kit is booked for. Whoever holds something has a row here: a job has one."""

    title = models.CharField(max_length=160)  # as it was called when it last held something

    def __str__(self) -> str:
        return self.title
