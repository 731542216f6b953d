"""What the log vouches for where something agreed was corrected: one value, one reader, one writer. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from jobs.design.differing import Differs
from jobs.proposal.frozen import JobTerms, terms_data

type Corrected = Literal["design", "terms"]
DESIGN: Corrected = "design"
PRICE: Corrected = "terms"


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectedDesign:
    """Digests of the chosen design's document, before and after."""

    was: str
    now: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectionRecord:
    """Of the design it keeps the digests, of the price terms what they were."""

    proposal: str  # its number
    why: str
    changed: tuple[Differs, ...]
    facts: CorrectedDesign | JobTerms

    @property
    def what(self) -> Corrected:
        return DESIGN if isinstance(self.facts, CorrectedDesign) else PRICE


def correction_data(record: CorrectionRecord) -> dict[str, Any]:
    facts = record.facts
    if isinstance(facts, CorrectedDesign):
        kept: dict[str, Any] = {"was": facts.was, "is": facts.now}
    else:
        kept = {"before": terms_data(facts)}
    return {
        "corrected": record.what, "proposal": record.proposal, "why": record.why, **kept,
        "changed": [[d.what, d.was, d.now] for d in record.changed],
    }  # fmt: skip


def correction_from(data: Mapping[str, Any]) -> CorrectionRecord | None:
    """What `correction_data` wrote; None for a line of the log that says something else."""
    if "corrected" not in data:
        return None
    facts: CorrectedDesign | JobTerms
    if data["corrected"] == DESIGN:
        facts = CorrectedDesign(was=data["was"], now=data["is"])
    else:
        facts = JobTerms.model_validate(data["before"])
    return CorrectionRecord(
        proposal=data["proposal"],
        why=data["why"],
        changed=tuple(Differs(what=what, was=was, now=now) for what, was, now in data["changed"]),
        facts=facts,
    )


def digest_left(data: Mapping[str, Any]) -> str | None:
    """The digest of the design that a correction left behind, whatever else its line holds; None for other lines."""
    digest: str | None = data["is"] if data.get("corrected") == DESIGN else None
    return digest
