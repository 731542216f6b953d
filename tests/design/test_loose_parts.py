"""Loose parts: each is one class, and one more of them is one file."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from django.forms import CharField

from jobs.design.document import Piece, Run
from jobs.design.parts import IN_WORDS, IN_WORK, PART_KINDS
from jobs.design.parts.bows import Bows
from jobs.design.parts.greenery import Greenery
from jobs.design.parts.skirt import Skirt
from jobs.design.practice import MINUTES
from jobs.design.supports import KINDS as SUPPORTS
from jobs.design.values import Balls, Colour
from jobs.pages.design.derived_form import form_of
from jobs.pages.fields import CountField
from tests.strategies import a_design, a_piece, with_everything

HOME = Path(__file__).parent.parent.parent

LANTERNS = '''
"""Paper lanterns hung under the runs."""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar, Literal

import numpy as np
from pydantic import Field

from jobs.design.faults import fault
from jobs.design.handle import handle_along
from jobs.design.parts.base import BALLS_A_METRE, Extent, LoosePart, Operation, Saving, left_out
from jobs.design.picture_plane import Thing, on_path, project
from jobs.design.picture_soft import ribbon_ink
from jobs.design.supports.base import FramePart, Size
from jobs.design.takeoff import Finding, KitToPack, Work
from jobs.design.values import Name, Place, Some
from pricing.core.need import Need
from pricing.core.supply_keys import SupplyKey
from studio.measure import write_length


class Lanterns(LoosePart):
    """Paper lanterns, evenly spread along the support, each on a hook of wire."""

    key: ClassVar = "lanterns"
    words: ClassVar = "paper lanterns"
    heading: ClassVar = "paper lanterns"
    boxes: ClassVar = {"lantern": "soft"}
    operations: ClassVar = (Operation(name="hang a lantern", minutes=1.5),)

    count: Some = Field(title="How many", examples=[3])
    middle: Place = Field(default=Place(share=0.5), title="Lowest at")
    shade: Literal["paper", "silk"] | None = Field(default=None, title="Of")
    across_m: Size = Field(default=0.3, title="Across", description="Opened.")
    colour: Name = Field(default="ivory", title="Paper")

    def faults(self, setting, path):
        yield from super().faults(setting, path)
        if self.colour not in {c.name for c in setting.design.palette}:
            yield fault(f"{path}.colour", "a colour of the palette", self.colour)

    def crowds(self, setting):
        yield "count", self.count, setting.piece.support.length_m * BALLS_A_METRE / 8

    def at_s(self, setting):
        return (np.arange(self.count) + 0.5) / self.count * setting.piece.support.length_m

    def needs(self, setting, units):
        size = write_length(self.across_m, units)
        yield Need(key=SupplyKey("lantern", size), label=f"paper lantern, {size}", quantity=Decimal(self.count))

    def work(self, setting):
        yield "hang a lantern", "site", self.count

    def extent(self, setting):
        return Extent(-1.6, 1.6, 1.9)

    def rigid_parts(self, setting):
        yield FramePart(name="lantern pole", length_m=2.2, width_m=0.95, thickness_m=0.9, mass_kg=30.0)

    def tools(self, setting):
        yield KitToPack(name="wire hooks", count=1, group="tools", why="lanterns")

    def findings(self, setting, units):
        if self.across_m > 0.35:
            yield Finding(code="lantern-sways", weight="care", piece=setting.index, sentence="It sways.")

    def told(self, setting, worked, units):
        yield f"{self.count} paper lanterns, {write_length(self.across_m, units)} across"

    def build_lines(self, setting, units):
        yield Work(what=f"{self.count} × paper lantern", how="Open it, then hang it.")

    def draw(self, setting, worked, view):
        points = setting.piece.support.points(self.at_s(setting))
        ink = ribbon_ink(setting.design, self.colour)
        for x, y, depth in project(on_path(setting.piece, points), view):
            circle = f'<circle id="lantern-{x:.0f}" cx="{x:.1f}" cy="{y + 20:.1f}" r="20" fill="{ink}"/>'
            yield Thing(setting.index, depth, circle)

    def handles(self, setting, worked, units):
        path = f"$.pieces[{setting.index}].lanterns.count"
        yield handle_along(setting.index, setting.piece, 0.0, units, kind="feature", path=path, label="lanterns")

    savings: ClassVar = (Saving(seen=0, words="lanterns left out", less=left_out),)
'''


@pytest.fixture(scope="module")
def said(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What a copy of the house with one file more says of it."""
    house = tmp_path_factory.mktemp("house")
    for room in ("jobs", "pricing", "studio", "templates", "static"):
        shutil.copytree(HOME / room, house / room, ignore=shutil.ignore_patterns("__pycache__"))
    (house / "jobs/design/parts/lanterns.py").write_text(LANTERNS)
    script = HOME / "tests/design/one_more_part.py"
    ran = subprocess.run(
        [sys.executable, str(script)], cwd=house, capture_output=True, text=True,
        env={**os.environ, "ARCHWRIGHT_DEBUG": "1", "PYTHONPATH": str(house), "DJANGO_SETTINGS_MODULE": "studio.settings"},
        check=False,
    )  # fmt: skip
    assert ran.returncode == 0, ran.stderr
    return json.loads(ran.stdout)


def test_one_file_more_is_counted(said: dict[str, Any]) -> None:
    assert said["needs"]["lantern/0.40 m"] == ["paper lantern, 0.40 m", "6"]  # of both pieces
    # Six times a minute and a half, and 11 % of rest.
    assert said["labour"]["hang a lantern"] == ["site", "6", "9.99"]
    assert said["kit"].count("wire hooks") == 1
    assert [f for f in said["findings"] if f[0] == "lantern-sways"] == [
        ["lantern-sways", "care", 0], ["lantern-sways", "care", 1],
    ]  # fmt: skip


def test_one_file_more_is_drawn_and_told(said: dict[str, Any]) -> None:
    assert said["picture"] == {"front": 6, "side": 6}
    assert said["handles"] == ["$.pieces[0].lanterns.count", "$.pieces[1].lanterns.count"]
    assert said["build sheet"] == {
        "Also on it": [{"what": "4 × paper lantern", "where": "", "how": "Open it, then hang it."}]
    }
    assert [line for line in said["words"] if "lantern" in line] == [
        "4 paper lanterns, 0.40 m across", "2 paper lanterns, 0.40 m across",
    ]  # fmt: skip
    assert said["box"] == ["Greenery and ribbon"]


def test_one_file_more_stands_in_the_room(said: dict[str, Any]) -> None:
    """What is stiff must pass the door and be lifted; what is high must be below the ceiling, and is reached."""
    codes = {code for code, _, piece in said["findings"] if piece == 0}
    assert {"ceiling-part", "doorway", "heavy"} <= codes
    assert "Rail 0: lantern pole" in said["kit"]
    assert said["high"] == [1.9, "A rail, with its balloons about 3.20 m wide and 1.90 m high"]
    assert said["sheet is as high"] >= 190


def test_one_file_more_can_be_left_out_cut_and_compared(said: dict[str, Any]) -> None:
    assert said["options"] == ["Rail 0: paper lanterns", "Rail 4: paper lanterns"]
    assert said["budget"] == [["lanterns left out", "0"]]
    assert said["garland only"] == [0, 0]
    assert [[what, was, now] for what, was, now in said["differs"] if what.endswith("count")] == [
        ["Rail 0: paper lanterns, count", "4", "3"]
    ]
    assert ["Rail 4: paper lanterns, across", "0.40 m", "0.30 m"] in said["differs"]


def test_one_file_more_is_asked_for_on_the_pages(said: dict[str, Any]) -> None:
    assert said["shown"] == [True, True]
    assert said["labels"] == [
        ["How many", "Empty: none."], ["Lowest at", ""], ["Of", ""], ["Across", "Opened."], ["Paper", ""],
    ]  # fmt: skip
    assert said["back"] is True
    sound, sentences = said["refused"]
    assert not sound
    assert sentences == ["How many: expected a whole number from 1 to 5000, got “0”."]
    assert said["practice"] == ["hang a lantern"]


def test_one_file_more_changes_no_document_that_lacks_it(said: dict[str, Any]) -> None:
    assert said["written"] == [False, True]


def test_one_file_more_is_read_and_judged(said: dict[str, Any]) -> None:
    assert said["faults"] == [
        ["$.pieces[0].lanterns.colour", "a colour of the palette"],
        ["$.pieces[0].lanterns.count", "at most 225, more would lie inside one another"],
        ["$.pieces[0].lanterns.gold", "no such field"],
    ]
    assert said["schema"] == {
        "examples": [3], "maximum": 5000, "minimum": 1, "title": "How many", "type": "integer",
    }  # fmt: skip


@pytest.mark.parametrize("kind", PART_KINDS.values(), ids=str)
def test_a_part_states_what_the_form_asks(kind: Any) -> None:
    asked = form_of(kind.model_fields, switch=kind.switch).base_fields
    assert list(asked) == list(kind.model_fields)
    assert all(info.title for info in kind.model_fields.values())
    assert kind.is_many() or set(kind.switch) <= set(asked)
    assert kind.words[0].islower()
    assert type(kind.example()) is kind
    assert all(MINUTES[operation.name] == operation.minutes for operation in kind.operations)
    assert not kind.placed_by or kind.placed_by in MINUTES


@pytest.mark.parametrize(
    "kind", [*PART_KINDS.values(), Run, Colour, Balls, *SUPPORTS.values()], ids=str
)
def test_a_form_keeps_the_bounds_that_the_schema_publishes(kind: Any) -> None:
    published = kind.model_json_schema()["properties"]
    for name, field in form_of(kind.model_fields).base_fields.items():
        ways = [published[name], *published[name].get("anyOf", [])]
        bounds = {
            word: way[word]
            for way in ways
            for word in ("minimum", "maximum", "maxLength")
            if word in way
        }
        if isinstance(field, CountField):
            assert (field.min_value, field.max_value) == (bounds["minimum"], bounds["maximum"])
        elif type(field) is CharField and "maxLength" in bounds:
            assert field.max_length == bounds["maxLength"]
        assert str(field.label) == published[name].get("title", field.label)


def test_every_kind_is_in_each_order_and_tried_on_a_piece() -> None:
    assert set(IN_WORK) == set(IN_WORDS) == set(PART_KINDS.values())
    tried = {key for kind in SUPPORTS for key in with_everything(kind)}
    assert set(PART_KINDS) <= tried


def test_a_piece_gives_its_parts_by_kind() -> None:
    piece = a_design(with_everything("ring")).pieces[0]
    bows, skirt = piece.part(Bows), piece.part(Skirt)
    assert bows is not None
    assert bows.count == 2
    assert skirt is not None
    assert len(piece.parts(Greenery)) == 1
    bare = piece.without(Bows, Greenery)
    assert (bare.part(Bows), bare.parts(Greenery), bare.part(Skirt)) == (None, (), skirt)
    more = bare.having(bows.but(count=5), *piece.parts(Greenery), *piece.parts(Greenery))
    assert [p.count for p in more.parts(Bows)] == [5]
    assert len(more.parts(Greenery)) == 2


def test_a_plain_piece_has_no_loose_part() -> None:
    piece = a_design(a_piece({"kind": "rail", "run_m": 3, "height_m": 1})).pieces[0]
    assert list(piece.loose_parts()) == []
    assert [*Piece.model_fields][:5] == ["name", "at_m", "passed", "support", "runs"]
