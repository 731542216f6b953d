"""Why something is corrected that the client said yes to."""

from __future__ import annotations

from django import forms

from jobs.proposal.agreed import LONGEST


class CorrectionForm(forms.Form):
    use_required_attribute = False
    why = forms.CharField(
        label="Why it is corrected", max_length=LONGEST, required=False,
        help_text="It stands in the job’s log with your name, and beside the proposal.",
        error_messages={"max_length": f"Why: expected at most {LONGEST} letters, got more."},
    )  # fmt: skip

    def refuse(self, reason: Exception) -> None:
        """Say beside the field what is missing."""
        self.is_valid()
        self.add_error("why", str(reason))
