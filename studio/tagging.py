"""What the PDF engine leaves undone of PDF/UA-1 (ISO 14289-1), put right just before the file is written.

Headers of tables say what they head; running lines are artifacts; a title block is a list of labels and
bodies; the description of the file is one block. Objects are the engine's own: dictionaries that point at
each other by reference.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

RUNNING = {"Type": "/Pagination", "Subtype": "/Footer"}  # ISO 32000-1, 14.8.2.2.2
SECOND_BLOCK = re.compile(rb"</rdf:RDF>\s*<rdf:RDF[^>]*>")


def finish(_document: Any, pdf: Any) -> None:
    """Called by the engine with the whole document and its objects."""
    tree = Tree(pdf)
    for element in tree.elements():
        if element["S"] == "/TH":
            say_scope(tree, element)
        elif element["S"] == "/TD":
            element.get("A", {}).pop("Headers", None)  # they name headers by ids that lead nowhere
        elif element["S"] == "/L":
            pair_up(tree, element)
    set_running_apart(tree)
    join_descriptions(tree)


class Tree:
    """The structure tree of a file that is about to be written."""

    def __init__(self, pdf: Any) -> None:
        self.pdf = pdf
        self.things: list[Any] = vars(pdf)["objects"]  # of the file, not rows
        self.root = self.at(pdf.catalog["StructTreeRoot"])

    def at(self, reference: bytes) -> Any:
        return self.things[int(reference.split()[0])]

    def kids(self, element: Any) -> list[Any]:
        """Structure elements right under one."""
        found = [self.at(kid) for kid in element["K"] if isinstance(kid, bytes)]
        return [kid for kid in found if kid.get("Type") == "/StructElem"]

    def elements(self) -> Iterator[Any]:
        """Every element that hangs on the root, parents first."""
        open_ = self.kids(self.root)
        while open_:
            element = open_.pop()
            yield element
            open_ += self.kids(element)


def say_scope(tree: Tree, header: Any) -> None:
    """A header in the table's head is its column's, any other its row's (ISO 32000-1, table 349)."""
    row = tree.at(header["P"])
    head = tree.at(row["P"])["S"] == "/THead"
    header["A"]["Scope"] = "/Column" if head else "/Row"
    header.pop("ID", None)


def pair_up(tree: Tree, listed: Any) -> None:
    """A box of a term and what is said of it becomes an item of a label and a body."""
    for box in tree.kids(listed):
        if box["S"] != "/Div":
            continue
        box["S"] = "/LI"
        for place, item in enumerate(tree.kids(box)):
            item["S"] = "/LBody" if place else "/Lbl"
            for inner in tree.kids(item):
                inner["S"] = "/NonStruct"


def set_running_apart(tree: Tree) -> None:
    """What stands in the margins of every page is an artifact: nobody wants it read into the middle of a sentence."""
    owned = {element.number for element in tree.elements()}
    numbers = tree.at(tree.root["ParentTree"])["Nums"]
    for page, owners in zip(numbers[::2], numbers[1::2], strict=True):
        if not isinstance(owners, list):
            continue  # of a link, not of a page
        loose = {n for n, owner in enumerate(owners) if tree.at(owner).number not in owned}
        marks = tree.at(tree.at(tree.pdf.page_references[page])["Contents"]).stream
        for i, mark in enumerate(marks):
            if isinstance(mark, dict) and mark.get("MCID") in loose:
                mark.pop("MCID")
                mark.update(RUNNING)
                marks[i - 1] = "/Artifact"
        for n in loose:
            owners[n] = b"null"


def join_descriptions(tree: Tree) -> None:
    """ISO 16684-1 has one rdf:RDF in a packet; what we add to it arrives in one of its own."""
    for thing in tree.things:
        if getattr(thing, "extra", {}).get("Type") == "/Metadata":
            thing.stream = [SECOND_BLOCK.sub(b"", b"\n".join(thing.stream))]
