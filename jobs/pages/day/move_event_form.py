"""Where an event goes, and what does not go along with it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django import forms

from jobs.day.moving_event import OtherChanges
from jobs.models import Venue
from jobs.pages.fields import MomentField

if TYPE_CHECKING:
    from django.db.models import QuerySet


class MoveEventForm(forms.Form):
    """The new start, and what does not go along with it."""

    start = MomentField(
        label="Event starts", help_text="The rest moves along, unless it is filled in."
    )
    event_end = MomentField(label="Event ends", required=False)
    access_from = MomentField(label="Room free from", required=False)
    clear_by = MomentField(label="Room clear by", required=False)
    venue: forms.ModelChoiceField[Venue] = forms.ModelChoiceField(
        queryset=None, required=False, label="Venue", empty_label="The same"
    )
    place = forms.CharField(label="Or somewhere new", max_length=120, required=False)
    address = forms.CharField(
        label="Its address",
        max_length=500,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    why = forms.CharField(label="Why", max_length=200, required=False)

    def __init__(self, *args: Any, venues: QuerySet[Venue], **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["venue"].queryset = venues  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("venue") and cleaned.get("place"):
            self.add_error(
                "place", "Or somewhere new: expected nothing beside a venue that is chosen."
            )
        if cleaned.get("address") and not cleaned.get("place"):
            self.add_error(
                "place", "Or somewhere new: expected a name for this address, got nothing."
            )
        return cleaned

    @property
    def rest(self) -> OtherChanges:
        """What was filled in beside the start."""
        cleaned = self.cleaned_data
        new = Venue(name=cleaned["place"], address=cleaned["address"]) if cleaned["place"] else None
        moments = {name: cleaned[name] for name in ("event_end", "access_from", "clear_by")}
        return OtherChanges(**moments, venue=new or cleaned["venue"])
