"""A seal over one line of a log and the line before it: SHA-256 of canonical JSON (RFC 8785 in spirit). Pure."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime
from typing import Any


def seal(*, job: Any, who: Any, what: str, data: dict[str, Any], at: datetime, before: str) -> str:
    """The digest of a line. `job` and `who` are rows, or None for nobody."""
    facts = {
        "job": job.pk,
        "who": who.pk if who else None,
        "what": what,
        "data": data,
        "at": at.astimezone(UTC).isoformat(timespec="microseconds"),
        "before": before,
    }
    text = json.dumps(facts, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def digest_of(content: bytes | str) -> str:
    return hashlib.sha256(content.encode() if isinstance(content, str) else content).hexdigest()
