"""The only door to rows: a signed-in person, their studio, their role.

Views reach every row through `request.access`; nothing else in the house filters by studio.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import wraps
from typing import TYPE_CHECKING

from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import Http404, HttpRequest

from studio.models import Membership, Person, Studio, StudioRow
from studio.permissions import OWNER, REFUSED, ROLES, Permission

if TYPE_CHECKING:
    from collections.abc import Callable

    from django.http import HttpResponse
    from django_htmx.middleware import HtmxDetails

    from studio.measure import Units


class AccessRequest(HttpRequest):
    """A request whose person is signed in and seated (what every inner view receives)."""

    access: Access
    htmx: HtmxDetails


@dataclass(frozen=True, slots=True)
class Access:
    """Who asks, for which studio, in which role."""

    studio: Studio
    person: Person | None  # None: the studio's own errands (worker, command, a client's link)
    role: str

    @property
    def units(self) -> Units:
        return "imperial" if self.studio.units == "imperial" else "metric"

    def may(self, permission: Permission) -> bool:
        role = ROLES.get(self.role)  # a row of a role that is no more may nothing
        return role is not None and permission in role.may

    def require(self, permission: Permission) -> None:
        """Raise PermissionDenied, in words, unless the role may."""
        if not self.may(permission):
            raise PermissionDenied(REFUSED[permission])

    @property
    def can(self) -> dict[str, bool]:
        """What the role may do, for templates: `{% if request.access.can.edit_jobs %}`."""
        return {permission.value: self.may(permission) for permission in Permission}

    def lock_studio(self) -> None:
        """Wait for whoever changes this studio's numbers, stores or promises. Call inside a transaction, and before
        any row of it is locked: who locks a job first and the studio then can wait for ever for who does it the
        other way round.
        """
        Studio.objects.select_for_update().get(pk=self.studio.pk)

    def as_system(self) -> Access:
        """The studio's own access, for reading what this person's page needs but does not show (pack sizes)."""
        return system_access(self.studio)

    def rows[Row: StudioRow](self, model: type[Row]) -> QuerySet[Row]:
        """All rows of `model` that this person may see, as the model's own kind of queryset.

        Raises PermissionDenied where the role may not see such rows.
        """
        if model.permission:
            self.require(model.permission)
        return model._default_manager.filter(studio=self.studio)

    def row[Row: StudioRow](
        self, model: type[Row], among: QuerySet[Row] | None = None, **lookup: object
    ) -> Row:
        """One row, or Http404, so that another studio's row looks like no row.

        `among` narrows or enriches the rows; it must itself come from `rows`.
        """
        try:
            return (self.rows(model) if among is None else among).get(**lookup)
        except (model.DoesNotExist, ValueError):
            raise Http404(f"No such {model._meta.verbose_name}.") from None

    def add[Row: StudioRow](self, model: type[Row], **facts: object) -> Row:
        """Make and save a row of this studio."""
        if model.permission:
            self.require(model.permission)
        return model._default_manager.create(studio=self.studio, **facts)


def access_of(person: Person) -> Access | None:
    """What a signed-in person may reach (their first membership), or None."""
    access = (
        Membership.objects.select_related("studio").filter(person=person).order_by("pk").first()
    )
    return Access(access.studio, person, access.role) if access else None


def system_access(studio: Studio) -> Access:
    """The access of the studio's own errands: commands, the mail worker, a client's link."""
    return Access(studio, None, OWNER)


def requires[**P](
    permission: Permission,
) -> Callable[[Callable[P, HttpResponse]], Callable[P, HttpResponse]]:
    """Close a view to roles without a permission."""

    def closed(view: Callable[P, HttpResponse]) -> Callable[P, HttpResponse]:
        @wraps(view)
        def guarded(*args: P.args, **kwargs: P.kwargs) -> HttpResponse:
            request: AccessRequest = args[0]  # type: ignore[assignment]
            request.access.require(permission)
            return view(*args, **kwargs)

        return guarded

    return closed


__all__ = ["Access", "AccessRequest", "access_of", "requires", "system_access"]
