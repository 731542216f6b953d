"""Queries on jobs, by the names the business uses. Dates are passed in."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any, Self

from django.db import models
from django.db.models import Prefetch, Sum
from django.db.models.functions import Coalesce

from jobs.job_stage import ENDED, LIVE, Stage


class DueJobs(models.QuerySet[Any]):
    def live(self) -> Self:
        """Jobs that still want something from the studio."""
        return self.filter(stage__in=LIVE)

    def wanting(self) -> Self:
        """Jobs that are live, and those that are over where money may be owing: a closed one that owed or gave some
        back, a called-off one of which less came than is kept.
        """
        entries = self._rows_of("payments").filter(job=models.OuterRef("pk")).order_by()
        came = entries.values("job").annotate(sum=Sum("amount")).values("sum")
        kept = models.Q(cancellation__kept__gt=Coalesce(models.Subquery(came), Decimal(0)))
        back = models.Exists(entries.filter(amount__lt=0))
        return self.filter(
            models.Q(stage__in=LIVE)
            | models.Q(stage=Stage.CLOSED) & (models.Q(closed_owing=True) | back)
            | models.Q(stage=Stage.CALLED_OFF) & kept
        )

    def standing(self) -> Self:
        """Jobs that have not lapsed, been declined or called off."""
        return self.exclude(stage__in=ENDED)

    def accepted(self) -> Self:
        """Jobs with a client's yes that are not over in the books; what was called off by the scale is not."""
        open_ = ~models.Q(stage__in=ENDED) | models.Q(cancellation__isnull=False)
        return self.filter(open_, offers__acceptance__isnull=False).distinct()

    def between(self, start: datetime, end: datetime) -> Self:
        """Jobs whose set-up, event or take-down touches the time from start to end."""
        return self.filter(
            models.Q(event_start__lt=end, event_end__gte=start)
            | models.Q(access_from__gte=start, access_from__lt=end)
            | models.Q(clear_by__gte=start, clear_by__lt=end)
        )

    def with_people(self) -> Self:
        return self.select_related("client", "venue")

    def with_money(self) -> Self:
        """Adds `paid` (None: nothing yet); fetches payments, invoices and credit notes, offers with their yes, and
        what moved or ended it.
        """
        offers = (
            self._rows_of("offers").light().order_by("version").select_related("acceptance")
            .defer("acceptance__certificate").prefetch_related("links", "questions")
        )  # fmt: skip
        papers = self._rows_of("invoices").defer("pdf", "xml", "groups").order_by("number")
        return (
            self.annotate(paid=Sum("payments__amount"))
            .select_related("cancellation")
            .prefetch_related(
                Prefetch("offers", offers),
                Prefetch("invoices", papers),
                "payments",
                "event_moves",
            )
        )

    def _rows_of(self, relation: str) -> Any:
        """What points at a job, by the relation's name: the models import this module, not it them."""
        return self.model._meta.get_field(relation).related_model._default_manager.all()


class LightOffers(models.QuerySet[Any]):
    def light(self) -> Self:
        """Without the frozen papers, which are large."""
        return self.defer("article", "pdf", "design", "owner_figures")
