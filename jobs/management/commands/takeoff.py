import json
import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from jobs.design.document import Design
from jobs.design.reading import Unreadable, read_design, schema
from jobs.design.takeoff import TakeOff
from jobs.design.working import work_out


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
        counted = takeoff_data(work_out(design, units=options["units"]).takeoff)
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


def takeoff_data(takeoff: TakeOff) -> dict[str, Any]:
    """Counts, minutes, findings and kit as JSON data; quantities as strings, so that they stay exact."""
    return {
        "balls": takeoff.ball_count,
        "clusters": takeoff.cluster_count,
        "counts": [
            {
                "key": need.key, "label": need.label, "quantity": str(need.quantity), "spare": str(need.spare),
                "unit": need.unit, "use": need.use,
            }
            for need in takeoff.needs
        ],
        "minutes": [
            {"operation": w.operation, "place": w.place, "times": str(w.times), "minutes": str(w.minutes)}
            for w in takeoff.labour
        ],
        "findings": [
            {"code": f.code, "weight": f.weight, "piece": f.piece, "sentence": f.sentence, "mend": f.mend}
            for f in takeoff.findings
        ],
        "kit": [{"name": k.name, "count": k.count, "group": k.group, "why": k.why} for k in takeoff.kit],
    }  # fmt: skip
