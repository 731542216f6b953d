"""Nothing on a page is an empty promise: no link, button, heading, label or cell without words, no sentence with a hole.

The studio that is walked has something in every column, so that what is missing on a page was left out by its template.
"""

from __future__ import annotations

import re
from typing import Any

import pytest
from lxml import etree, html

from studio.access import Access
from tests.conftest import signed_in
from tests.test_hostile_walk import BINARY, HANDLER, hostile
from tests.walk import every_address

__all__ = ["hostile"]

# WCAG 2.2: 2.4.2 (titles), 2.4.4 (links), 2.4.6 (headings and labels), 4.1.2 (names of controls).
NAMED = [
    "a",
    "button",
    "h1",
    "h2",
    "h3",
    "h4",
    "label",
    "legend",
    "caption",
    "summary",
    "title",
    "th",
    "dt",
    "dd",
    "option",
    "td",
    "time",
]
GIVEN = ("href", "src", "action", "id", "for", "name", "headers", "aria-label", "aria-describedby", "aria-labelledby", "datetime", "alt")  # fmt: skip
HOLES = re.compile(r"\s[.,;](\s|$)|\(\s*\)|“\s*”|,\s*,|·\s*(·|$)|:\s*[.,]")
# A choice of nothing; cells that have nothing to say in some rows: totals, jobs without what is asked about.
MAY_BE_EMPTY = {
    "option", "From the shelves", "In the journal", "Job", "Kinds from there", "Labour beyond it", "Minutes, taken",
    "Thing", "What was found",
}  # fmt: skip


def words_of(node: Any) -> str:
    return " ".join("".join(node.itertext()).replace(f"{HANDLER}()", "").split())


def is_told(node: Any) -> bool:
    """It has words, a name of its own, or holds something to see or to fill in."""
    if words_of(node) or node.get("aria-label") or node.get("title"):
        return True
    return node.find(".//svg") is not None or any(
        True for _ in node.iter("img", "input", "select", "textarea")
    )


def holes_in(tree: Any) -> list[str]:
    found = []
    for node in tree.iter(*NAMED):
        cell = node.tag == "td" and "data-label" not in node.attrib  # of the diary, of a corner
        if not cell and not is_told(node) and node.get("data-label", node.tag) not in MAY_BE_EMPTY:
            found.append(f"an empty {node.tag}: {etree.tostring(node)[:120]!r}")
    for node in tree.iter(etree.Element):
        found += [f"an empty {name}: {etree.tostring(node)[:120]!r}" for name in GIVEN if node.get(name, "x").strip() == "" and not (node.tag == "img" and name == "alt")]  # fmt: skip
    for node in tree.iter("p", "dd", "li", "h1", "h2", "h3", "td", "caption", "title"):
        if hole := HOLES.search(words_of(node)):
            found.append(f"a hole “{hole[0]}”: {words_of(node)[:120]}")
    return found


def test_no_page_has_a_hole(hostile: Access) -> None:
    browser, found = signed_in(hostile), {}
    for address in every_address(hostile):
        if address.path.endswith((*BINARY, ".csv", ".svg", ".json", ".xml")):
            continue
        answer = browser.get(address.path)
        if answer.headers.get("Content-Type", "").startswith("text/html") and answer.content:
            holes = holes_in(html.document_fromstring(answer.content.decode()))
            found |= {address.path: holes} if holes else {}
    assert found == {}, "\n".join(sorted({hole for holes in found.values() for hole in holes}))


@pytest.mark.parametrize(
    "body",
    ["<a href='/x'></a>", "<h2> </h2>", "<a href=''>x</a>", "<p>Due on .</p>", "<p>For , we</p>", "<label for=''>x</label>", "<dd></dd>", "<p>a · </p>"],
)  # fmt: skip
def test_the_checks_do_find_holes(body: str) -> None:
    assert holes_in(html.document_fromstring(f"<title>x</title>{body}"))
