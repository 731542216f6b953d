"""What the client may have or leave: a name on each part, and how the named options go together."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from jobs.design.document import Design
from jobs.design.options import Option, Part, option_faults, parts_of


class OptionsForm(forms.Form):
    """A text field a part ("part-0-greenery"), and two rules for each option there is."""

    def __init__(
        self, *args: Any, design: Design, options: Sequence[Option], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.design = design
        self.parts = {f"part-{p.piece}-{p.what}": (p, words) for p, words in parts_of(design)}
        named = {part: option.name for option in options for part in option.parts}
        for name, (part, words) in self.parts.items():
            self.fields[name] = forms.CharField(
                label=words, required=False, max_length=60, initial=named.get(part, "")
            )
        for n, option in enumerate(options):
            others = [(o.name, o.name) for o in options if o is not option]
            for rule, words in (("only_with", "only with"), ("not_with", "not with")):
                if others:
                    self.fields[f"{rule}-{n}"] = forms.ChoiceField(
                        label=f"{option.name}, {words}", required=False,
                        choices=[("", "no rule"), *others], initial=getattr(option, rule),
                    )  # fmt: skip
        self.before = list(options)

    def clean(self) -> dict[str, Any]:
        """Adds `options`."""
        cleaned = super().clean() or self.cleaned_data
        by_name: dict[str, list[Part]] = {}
        for name, (part, _) in self.parts.items():
            if words := str(cleaned.get(name, "")).strip():
                by_name.setdefault(words, []).append(part)
        options = [self._option(name, parts, set(by_name)) for name, parts in by_name.items()]
        for fault in option_faults(self.design, options):
            self.add_error(None, fault)
        cleaned["options"] = options
        return cleaned

    def _option(self, name: str, parts: list[Part], names: set[str]) -> Option:
        """With its rules; a rule about a name that is gone goes with it."""
        rules: dict[str, str] = {}
        for n, option in enumerate(self.before):
            if option.name == name:
                said = {
                    r: str(self.cleaned_data.get(f"{r}-{n}", "")) for r in ("only_with", "not_with")
                }
                rules = {r: other for r, other in said.items() if other in names}
        return Option(name=name, parts=tuple(parts), **rules)
