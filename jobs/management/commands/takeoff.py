import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from jobs.design.buildsheet import build_steps
from jobs.design.document import Design
from jobs.design.practice import Practice
from jobs.design.reading import Unreadable, read_design
from jobs.design.schema import schema
from jobs.design.working import Worked, work_out
from pricing.core.cutting import cut_rolls
from pricing.core.need import Need
from pricing.core.supply_keys import write_key
from studio.measure import Units


class Command(BaseCommand):
    help = "Read a design document and print counts, minutes and findings as JSON."
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "file", nargs="?", default="-", help="a design document; - reads standard input"
        )
        parser.add_argument("--units", choices=["metric", "imperial"], default="metric")
        parser.add_argument(
            "--schema", action="store_true", help="print the document's JSON Schema instead"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["schema"]:
            self.stdout.write(json.dumps(schema(), indent=1, ensure_ascii=False))
            return
        design = self.read(options["file"])
        worked = work_out(design, units=options["units"])
        counted = takeoff_data(worked, options["units"])
        self.stdout.write(
            json.dumps({"title": design.title, **counted}, indent=1, ensure_ascii=False)
        )

    def read(self, name: str) -> Design:
        """The document; on faults one line for each on standard error, and exit 2."""
        try:
            return read_design(sys.stdin.buffer.read() if name == "-" else Path(name).read_bytes())
        except OSError as error:
            self.stderr.write(f"{name}: {error.strerror}")
        except Unreadable as unreadable:
            for fault in unreadable.faults:
                self.stderr.write(f"{fault.path}: {fault.sentence}")
        sys.exit(2)


def takeoff_data(worked: Worked, units: Units) -> dict[str, Any]:
    """Counts, cuts, sizes, minutes, steps, findings and kit as JSON data; quantities as strings, to stay exact."""
    takeoff = worked.takeoff
    return {
        "balls": takeoff.ball_count,
        "clusters": takeoff.cluster_count,
        "counts": [
            {
                "key": write_key(need.key), "label": need.label, "quantity": str(need.quantity),
                "spare": str(need.spare), "unit": need.unit, "use": need.use,
            }
            for need in takeoff.needs
        ],
        "rolls": [rolls_data(need, worked.practice) for need in takeoff.needs if need.cuts_mm],
        "sizes": [asdict(line) for line in takeoff.sizing],
        "minutes": [
            {"operation": w.operation, "place": w.place, "times": str(w.times), "minutes": str(w.minutes)}
            for w in takeoff.labour
        ],
        "steps": [asdict(step) for step in build_steps(worked.design, worked.composition, units)],
        "findings": [
            {"code": f.code, "weight": f.weight, "piece": f.piece, "sentence": f.sentence, "mend": f.mend}
            for f in takeoff.findings
        ],
        "kit": [{"name": k.name, "count": k.count, "group": k.group, "why": k.why} for k in takeoff.kit],
    }  # fmt: skip


def rolls_data(need: Need, practice: Practice) -> dict[str, Any]:
    """The fewest rolls of a ribbon, and how each is cut: lengths in millimetres. What no roll gives stands apart."""
    roll_mm = round(practice.roll_m * 1000)
    cutting = cut_rolls({mm: many for mm, many in need.cuts_mm if mm <= roll_mm}, roll_mm)
    return {"label": need.label, "roll_mm": cutting.roll_mm, "rolls": cutting.count, "proven": cutting.proven,
            "longer_mm": [list(cut) for cut in need.cuts_mm if cut[0] > roll_mm],
            "cuts": [{"times": r.times, "cuts_mm": [list(p) for p in r.pattern], "left_mm": r.left_mm}
                     for r in cutting.rolls]}  # fmt: skip
