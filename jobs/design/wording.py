"""Small words of sentences that people read."""

from __future__ import annotations


def plural(count: int, word: str) -> str:
    """The word for so many.

    >>> plural(1, "bow"), plural(2, "bow")
    ('bow', 'bows')
    """
    return word if count == 1 else word + "s"


def listed(names: list[str]) -> str:
    """Names in a sentence.

    >>> listed(["ivory", "sage", "gold"])
    'ivory, sage and gold'
    """
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]
