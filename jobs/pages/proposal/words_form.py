"""The studio’s own words on a proposal."""

from __future__ import annotations

from typing import Any

from django import forms

from jobs.proposal.offering import Words


class WordsForm(forms.Form):
    """The studio's own words on a proposal."""

    greeting = forms.CharField(
        label="Greeting", max_length=1000, widget=forms.Textarea(attrs={"rows": 3})
    )
    note = forms.CharField(
        label="A note to the client", max_length=2000, required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )  # fmt: skip

    photo = forms.BooleanField(label="The room’s photo behind the picture", required=False)

    def __init__(
        self, *args: Any, others: list[tuple[str, str]], pictured: bool, **options: Any
    ) -> None:
        super().__init__(*args, **options)
        if not pictured:
            del self.fields["photo"]
        if others:
            self.fields["letters"] = forms.MultipleChoiceField(
                label="The client may also choose", required=False, choices=others,
                widget=forms.CheckboxSelectMultiple,
            )  # fmt: skip

    @property
    def words(self) -> Words:
        """What stands in the form, sound or not."""
        letters = self["letters"].value() if "letters" in self.fields else None
        return Words(
            greeting=str(self["greeting"].value() or ""),
            note=str(self["note"].value() or ""),
            letters=tuple(letters or ()),
            photo="photo" in self.fields and bool(self["photo"].value()),
        )
