"""The brief: who asks, where, when. Three forms on one page, saved together or not at all."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, ClassVar

from django import forms

from jobs.job_stage import MOVABLE
from jobs.models import Client, Job, Venue
from jobs.pages.fields import HeatField, InStudioUnits, LengthField, MomentField, PhoneField
from studio.countries import country_of
from studio.editing import VersionedForm
from studio.forms import a_country, a_tax_number

if TYPE_CHECKING:
    from django.db.models import Model
    from django.http import QueryDict

    from studio.access import Access
    from studio.models import Studio


MOMENTS = ("event_start", "event_end", "access_from", "clear_by")
PLACE = ("name", "address")
OVER = (Job.Stage.DOWN, Job.Stage.CLOSED)  # what they were stands


class BriefPart(InStudioUnits, VersionedForm):
    """A model form that knows the studio's units and refuses to overwrite a newer row."""

    use_required_attribute = False  # the server's sentences are better than the browser's

    def __init__(self, *args: Any, studio: Studio, **options: Any) -> None:
        super().__init__(*args, **options)
        self.locked: dict[str, forms.Field] = {}
        self.is_over = False
        self.fit(studio)


class ClientForm(BriefPart):
    phone = PhoneField(required=False, label="Phone", max_length=40)

    def __init__(self, *args: Any, studio: Studio, **options: Any) -> None:
        super().__init__(*args, studio=studio, **options)
        self.home = country_of(studio)

    class Meta:
        model = Client
        fields: ClassVar = ["name", "mail", "phone", "address", "country", "tax_number"]
        labels: ClassVar = {
            "name": "Client’s name",
            "mail": "E-mail",
            "address": "Address for invoices",
            "country": "Country, two letters",
            "tax_number": "Client’s tax number",
        }
        help_texts: ClassVar = {
            "country": "Empty: the same as ours.",
            "tax_number": "Only of a business; checked by the rules of its country.",
        }
        widgets: ClassVar = {"address": forms.Textarea(attrs={"rows": 2})}

    def clean_country(self) -> str:
        return a_country(self.cleaned_data["country"])

    def clean_tax_number(self) -> str:
        """By the rules of the client's country, which stands before it; else by those of ours."""
        number = str(self.cleaned_data["tax_number"])
        if "country" in self.cleaned_data:  # otherwise that is told first
            country = self.cleaned_data["country"] or self.home
            a_tax_number(number, country, "Client’s tax number")
        return number


class VenueForm(BriefPart):
    ceiling_m = LengthField(
        required=False,
        label="Ceiling height",
        help_text="Lowest point over the place, lamps and beams included. Empty: not measured.",
    )
    door_width_m = LengthField(required=False, label="Narrowest door, width")
    door_height_m = LengthField(required=False, label="Narrowest door, height")
    warmest_c = HeatField(
        required=False,
        label="Warmest there",
        help_text="While it stands: balloons grow. Empty: as in the workshop.",
    )
    altitude_m = LengthField(
        required=False,
        label="Above sea level",
        at_most_m=5000.0,
        help_text="Thin air makes balloons grow. Empty: as the workshop.",
    )
    field_order = [  # noqa: RUF012  Django declares it so
        "name", "address", "outdoors", "ceiling_m", "door_width_m", "door_height_m", "floor", "access",
        "warmest_c", "altitude_m",
    ]  # fmt: skip

    class Meta:
        model = Venue
        fields: ClassVar = [
            "name", "address", "outdoors", "ceiling_m", "door_width_m", "door_height_m", "floor",
            "access", "warmest_c", "altitude_m",
        ]  # fmt: skip
        labels: ClassVar = {
            "name": "Venue",
            "outdoors": "Outdoors",
            "access": "Getting in",
        }
        help_texts: ClassVar = {
            "floor": "Such as carpet, sprung wood, lawn.",
            "access": "Steps, lift, parking, who has the key.",
        }
        widgets: ClassVar = {
            "address": forms.Textarea(attrs={"rows": 2}),
            "access": forms.Textarea(attrs={"rows": 2}),
        }

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or self.cleaned_data
        refuse_locked(self, self.locked)
        return facts


class JobForm(BriefPart):
    event_start = MomentField(label="Event starts")
    event_end = MomentField(label="Event ends")
    access_from = MomentField(required=False, label="Room free from")
    clear_by = MomentField(required=False, label="Room clear by")

    class Meta:
        model = Job
        fields: ClassVar = [
            "title", "event_start", "event_end", "access_from", "clear_by", "latex", "notes",
        ]  # fmt: skip
        labels: ClassVar = {
            "title": "What is celebrated",
            "latex": "Latex allergy",
            "notes": "Notes",
        }
        help_texts: ClassVar = {
            "title": "Such as “Anniversary lunch”. The client reads this.",
            "latex": "Natural-rubber latex can cause allergic reactions: ask about guests and staff.",
            "notes": "For the studio; the client does not see them. Crew read them without sums of money.",
        }
        widgets: ClassVar = {"notes": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.locked = locked_away(self, MOMENTS) if is_agreed(self.instance) else {}
        self.is_over = self.instance.stage in OVER

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or self.cleaned_data
        refuse_locked(self, self.locked)
        self.in_order(facts, "event_start", "event_end", "it ends before it starts")
        self.in_order(facts, "access_from", "event_start", "the room is free only after the start")
        self.in_order(facts, "event_end", "clear_by", "the room must be clear before the end")
        return facts

    def in_order(self, facts: dict[str, Any], first: str, then: str, fault: str) -> None:
        if facts.get(first) and facts.get(then) and facts[first] > facts[then]:
            sentence = (
                f"{self.fields[then].label}: expected no earlier than "
                f"{str(self.fields[first].label).lower()}; as typed, {fault}."
            )
            self.add_error(then, forms.ValidationError(sentence, code="order"))


MOVE_IT = "the client has accepted. Change it with “Move the event”."


def is_agreed(job: Job | None) -> bool:
    """Whether day, hours and place are the client's too: then they change on *Move the event*, or no more."""
    return is_movable(job) or (job is not None and job.stage in OVER)


def is_movable(job: Job | None) -> bool:
    """Whether *Move the event* changes them."""
    return job is not None and job.stage in MOVABLE


def locked_away(form: BriefPart, names: Sequence[str]) -> dict[str, forms.Field]:
    """Takes fields out of a form, and answers them."""
    return {name: form.fields.pop(name) for name in names}


def refuse_locked(form: BriefPart, locked: dict[str, forms.Field]) -> None:
    """A page from before the yes still posts them: what differs is refused with a sentence, never dropped."""
    for name, field in locked.items():
        said = form.data.get(form.add_prefix(name))
        if said is None:
            continue
        try:
            changed = field.has_changed(getattr(form.instance, name), said)
        except forms.ValidationError:
            changed = True
        if changed:
            way = "it is over, and what was agreed stands." if form.is_over else MOVE_IT
            form.add_error(None, f"{field.label}: {way}")


class KnownForm(forms.Form):
    """For a new enquiry: somebody, or somewhere, the studio has met before."""

    known_client: forms.ModelChoiceField[Client] = forms.ModelChoiceField(
        queryset=None, required=False, label="Client", empty_label="Somebody new"
    )
    known_venue: forms.ModelChoiceField[Venue] = forms.ModelChoiceField(
        queryset=None, required=False, label="Venue", empty_label="Somewhere new"
    )

    def __init__(self, *args: Any, access: Access, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["known_client"].queryset = access.rows(Client).order_by("name")  # type: ignore[attr-defined]
        self.fields["known_venue"].queryset = access.rows(Venue).order_by("name")  # type: ignore[attr-defined]


class Brief:
    """The forms of one page. `job` None: a new enquiry."""

    def __init__(
        self, access: Access, data: QueryDict | None = None, job: Job | None = None
    ) -> None:
        def part(form: type[BriefPart], prefix: str, instance: Model | None) -> BriefPart:
            return form(data, prefix=prefix, instance=instance, studio=access.studio)

        self.agreed, self.movable = is_agreed(job), is_movable(job)
        self.known = None if job else KnownForm(data, access=access)
        self.client = part(ClientForm, "client", job and job.client)
        self.venue = part(VenueForm, "venue", job and job.venue)
        if self.agreed:
            self.venue.locked = locked_away(self.venue, PLACE)
            self.venue.is_over = not self.movable
        self.job = part(JobForm, "job", job)
        self.known_client: Client | None = None
        self.known_venue: Venue | None = None

    def is_valid(self) -> bool:
        """A known client or venue leaves its own form out of account, blank as it is."""
        if self.known and self.known.is_valid():
            self.known_client = self.known.cleaned_data["known_client"]
            self.known_venue = self.known.cleaned_data["known_venue"]
        wanted: list[forms.BaseForm] = [self.job, *([self.known] if self.known else [])]
        if self.known_client:
            self.client.is_bound = False
        else:
            wanted.append(self.client)
        if self.known_venue:
            self.venue.is_bound = False
        else:
            wanted.append(self.venue)
        return all(part.is_valid() for part in wanted)
