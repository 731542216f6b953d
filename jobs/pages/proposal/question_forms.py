"""A question of the client, an answer of the studio."""

from __future__ import annotations

from typing import Any

from django import forms

LONGEST = 2000


class TextForm(forms.Form):
    """A few lines. Each form on a page has ids of its own, by `name`."""

    label = "Text"
    text = forms.CharField(max_length=LONGEST, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(self, data: Any = None, *, name: str) -> None:
        super().__init__(data, auto_id=f"id_{name}_%s")
        field = self.fields["text"]
        field.label = self.label
        field.error_messages.update(
            required=f"{self.label}: expected a few words, got nothing.",
            max_length=f"{self.label}: expected at most {LONGEST:,} characters, got %(show_value)d.",
        )


class QuestionForm(TextForm):
    label = "Your question"


class AnswerForm(TextForm):
    label = "Your answer"
