"""Run in a copy of the house that has one file more, `jobs/design/parts/lanterns.py`: prints where it shows.

Not a test: tests/design/test_loose_parts.py makes the copy, runs this there, and judges what it says.
"""

from __future__ import annotations

import json
import os
from dataclasses import asdict
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
django.setup()

from django.http import QueryDict  # noqa: E402  only once Django is set up
from django.template.loader import render_to_string  # noqa: E402

from jobs.day.bags import Carried  # noqa: E402
from jobs.day.boxes import pack_boxes  # noqa: E402
from jobs.design.budget import meet_budget  # noqa: E402
from jobs.design.buildlines import part_work  # noqa: E402
from jobs.design.compose import compose  # noqa: E402
from jobs.design.differing import design_differences  # noqa: E402
from jobs.design.document import Design  # noqa: E402
from jobs.design.kit import highest_m  # noqa: E402
from jobs.design.layouts import laid_out  # noqa: E402
from jobs.design.options import parts_of  # noqa: E402
from jobs.design.picture import draw  # noqa: E402
from jobs.design.picture_handles import handles  # noqa: E402
from jobs.design.picture_room import extent  # noqa: E402
from jobs.design.practice import PRACTICE  # noqa: E402
from jobs.design.reading import Unreadable, design_from  # noqa: E402
from jobs.design.schema import schema  # noqa: E402
from jobs.design.working import Worked, work_out  # noqa: E402
from jobs.pages.after.practice_form import MINUTES_FIELDS  # noqa: E402
from jobs.pages.design.design_form import DesignForm  # noqa: E402
from jobs.proposal.included import included  # noqa: E402
from studio.models import Studio  # noqa: E402

STUDIO = Studio(
    name="S", units="metric", currency="GBP", language="en-GB", timezone="Europe/London"
)


def a_rail(at_m: float, lanterns: dict[str, Any]) -> dict[str, Any]:
    support = {"kind": "rail", "run_m": 3.0, "height_m": 1.5}
    run = {"start": {"share": 0}, "end": {"share": 1}, "pattern": ["quad"]}
    return {"name": f"Rail {at_m:g}", "at_m": at_m, "support": support, "runs": [run], "lanterns": lanterns}  # fmt: skip


def a_document(*lanterns: dict[str, Any]) -> dict[str, Any]:
    return {
        "format": "archwright-design", "version": 2,
        "room": {"ceiling_m": 1.8, "door_width_m": 0.8, "door_height_m": 2.0},
        "palette": [{"name": "ivory", "hex": "#efe6d2"}, {"name": "sage", "hex": "#9db092"}],
        "recipes": [{"name": "quad", "balls": [{"count": 4, "size": "5 in", "blown_m": 0.11}]}],
        "pieces": [a_rail(4.0 * at, some) for at, some in enumerate(lanterns)],
    }  # fmt: skip


def a_design(*lanterns: dict[str, Any]) -> Design:
    return design_from(a_document(*lanterns))


def a_design_without() -> Design:
    """Two pieces, the second of which has the part."""
    document = a_document({}, {"count": 2, "across_m": 0.4})
    document["pieces"][0].pop("lanterns")
    return design_from(document)


def of_the_core(worked: Worked) -> dict[str, Any]:
    takeoff = worked.takeoff
    return {
        "needs": {str(n.key): [n.label, str(n.quantity)] for n in takeoff.needs},
        "labour": {w.operation: [w.place, str(w.times), str(w.minutes)] for w in takeoff.labour},
        "kit": [item.name for item in takeoff.kit],
        "findings": [[f.code, f.weight, f.piece] for f in takeoff.findings],
        "picture": {v: draw(worked, units="metric", view=v).count("lantern-") for v in ("front", "side")},
        "high": [highest_m(worked.design, worked.composition, worked.settled), included(worked, "metric")[0].lines[0]],
        "sheet is as high": -extent(worked, "front")[2],
        "handles": [h.path for h in handles(worked, "metric") if "lanterns" in h.path],
        "build sheet": {heading: [asdict(w) for w in work] for heading, work in part_work(worked.composition, 0, "metric").items()},
        "words": [line for piece in included(worked, "metric") for line in piece.lines],
        "options": [words for part, words in parts_of(worked.design) if part.what == "lanterns"],
    }  # fmt: skip


def of_changes(design: Design) -> dict[str, Any]:
    fewer = a_design({"count": 3, "across_m": 0.4}, {"count": 2, "across_m": 0.3})
    differ = design_differences(design, fewer, "metric")

    def needed(some: Design) -> Decimal:
        parts = compose(some, PRACTICE).parts
        return sum((n.quantity for p, at in parts for n in p.needs(at, "metric")), Decimal(0))

    return {
        "differs": [[d.what, d.was, d.now] for d in differ],
        "budget": [[c.words, str(c.total)] for c in meet_budget(design, Decimal(0), needed)],
        "garland only": [
            len(list(p.loose_parts())) for p in laid_out(design, "garland only").pieces
        ],
    }


def of_the_pages(design: Design) -> dict[str, Any]:
    form = DesignForm(STUDIO, design=design)
    piece = form.pieces[0]
    html = render_to_string(
        "jobs/design/parts/piece.html",
        {
            "piece": piece,
            "request": SimpleNamespace(access=SimpleNamespace(can=SimpleNamespace(edit_jobs=True))),
            "here": "/",
        },
    )
    typed = QueryDict(mutable=True)
    for each in (form.palette, form.clusters, *(t for p in form.pieces for t in p.tables.values())):
        typed.update({f.html_name: str(f.value()) for f in each.management_form})
    forms = [f for t in (form.palette, form.clusters) for f in t] + [
        f for p in form.pieces for one in p.forms for f in getattr(one, "forms", [one])
    ]
    for each in forms:
        typed.update(
            {f.html_name: str(each.fields[f.name].prepare_value(f.value()) or "") for f in each}
        )
    typed.update(
        {"pieces": str(len(form.pieces)), "seed": "1"}
        | {f"{p.prefix}-kind": p.kind for p in form.pieces}
    )
    back, wrong = DesignForm(STUDIO, data=typed), typed.copy()
    wrong["p0-lanterns-count"] = "0"
    refused = DesignForm(STUDIO, data=wrong)
    return {
        "shown": [
            word in html for word in ("<summary>Paper lanterns</summary>", "p0-lanterns-across_m")
        ],
        "labels": [[str(f.label), str(f.help_text)] for f in piece.extras["lanterns"]],
        "back": back.is_valid() and back.design is not None and back.design.pieces == design.pieces,
        "refused": [refused.is_valid(), [sentence for _, sentence in refused.all_faults()]],
        "practice": [o for o in MINUTES_FIELDS.values() if "lantern" in o],
        "box": [t.where for t in packed(design) if t.key == "lantern/0.40 m"],
    }


def packed(design: Design) -> Any:
    return pack_boxes(work_out(design).takeoff, Carried(bags=(), on_site=()), "metric").things


def refusals() -> list[list[str]]:
    found = []
    for wrong in (
        {"count": 3, "across_m": 0.4, "colour": "tartan"},
        {"count": 4999},
        {"count": 2, "gold": 1},
    ):
        try:
            a_design(wrong)
        except Unreadable as unreadable:
            found += [[fault.path, fault.expected] for fault in unreadable.faults]
    return found


def main() -> None:
    design = a_design(
        {"count": 4, "across_m": 0.4}, {"count": 2, "across_m": 0.4, "colour": "sage"}
    )
    said = {
        **of_the_core(work_out(design)), **of_changes(design), **of_the_pages(design), "faults": refusals(),
        "written": ["lanterns" in piece for piece in a_design_without().model_dump()["pieces"]],
        "schema": schema()["$defs"]["Lanterns"]["properties"]["count"],
    }  # fmt: skip
    print(json.dumps(said))


main()
