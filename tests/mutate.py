"""`make mutate`: what do the tests hold? A sample of one-token changes for every room, each met by the tests that
reach its line.

    python -m tests.mutate [--room jobs/money]… [--size 60] [--seed 1] [--list] [--reach-only]

The checkout is never written to: a change lives in the memory of one forked process (an import hook, or a template
loader), with a database and a folder of its own, for 20 s of the processor at most. Which test reaches which line is
kept under var/mutate/ and renewed for files that changed; so are the results, and a run that was stopped goes on.
Changes that no test can tell from the code stand in `mutants.toml` with the reason.
"""

from __future__ import annotations

import argparse
import hashlib
import importlib.abc
import importlib.machinery
import importlib.util
import json
import os
import re
import resource
import shutil
import signal
import sys
import time
import tomllib
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator
from difflib import SequenceMatcher
from pathlib import Path
from typing import Any

import coverage
import pytest
from hypothesis import settings as laws

from tests.mutations import Mutant, digest, mutants_of, mutated_template, mutated_tree

HOME = Path(__file__).resolve().parent.parent
KEPT = HOME / "var" / "mutate"
REACH = KEPT / "reach.coverage"
SECONDS = 20  # of the processor for one change; three times that by the clock, on a busy machine
WORTH = 8.0  # seconds of tests that are tried on one change, the nearest first
RECORDS = ("studio/append_only.py", "jobs/seals.py", "jobs/records.py")
LEFT_OUT = (
    "/migrations/",
    "studio/settings.py",
    "studio/wsgi.py",
    "jobs/demo.py",
    "commands/demo.py",
)
ROOMS = {
    "studio": "studio/**/*.py", "pricing/core": "pricing/core/*.py", "pricing": "pricing/**/*.py",
    "jobs/design": "jobs/design/**/*.py", "jobs/money": "jobs/money/*.py", "jobs/proposal": "jobs/proposal/*.py",
    "jobs/day": "jobs/day/*.py", "jobs/after": "jobs/after/*.py", "jobs/pages": "jobs/pages/**/*.py",
    "templates": "templates/**/*.html", "records": " ".join(RECORDS), "jobs": "jobs/**/*.py",
}  # fmt: skip
HEAVY = (
    "babel.dates", "coloraide", "django.forms", "django.test.client", "drafthorse.models.document", "factory.django",
    "facturx", "hypothesis.strategies", "lxml.html", "numpy", "phonenumbers", "pikepdf", "PIL.Image", "psycopg",
    "pydantic", "pypdfium2", "pytest_django.plugin", "scipy.optimize", "scipy.stats", "segno", "weasyprint",
)  # fmt: skip
FIELDS_HELD = "tests/test_house.py::test_tables_are_as_the_last_migration_left_them"


def files_of(room: str) -> list[str]:
    """A file belongs to the narrowest room that names it."""
    named = {str(p.relative_to(HOME)) for shape in ROOMS[room].split() for p in HOME.glob(shape)}
    narrower = [r for r in ROOMS if r.startswith(room + "/") or (r == "records" != room)]
    for other in narrower:
        named -= set(files_of(other))
    return sorted(f for f in named if not any(out in "/" + f for out in LEFT_OUT))


def sample(room: str, size: int, seed: int) -> list[Mutant]:
    """The same changes as long as their places stand: the first of an order that the seed draws."""
    every = [m for f in files_of(room) for m in mutants_of(f, (HOME / f).read_text())]
    return sorted(every, key=lambda m: digest(f"{seed}|{m.name}"))[:size]


# One process for each piece of work, so that a change dies with it


def apart(work: Callable[[], int], folder: Path, *, cpu_s: int, wall_s: float) -> int | None:
    """Run `work` in a child of its own with `folder` as its var/; its exit code, or None when its time was up."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    if (KEPT / "empty.sqlite3").exists():
        shutil.copy(KEPT / "empty.sqlite3", folder / "test.sqlite3")
    pid = os.fork()
    if not pid:
        code = 99
        try:
            os.setsid()
            resource.setrlimit(resource.RLIMIT_CPU, (cpu_s, cpu_s + 2))
            os.environ |= {"ARCHWRIGHT_VAR": str(folder), "ARCHWRIGHT_DEBUG": "1", "CI": "1"}
            os.environ["TEST_DATABASE_FILE"] = str(folder / "test.sqlite3")
            with (folder / "said.txt").open("w") as said:
                os.dup2(said.fileno(), 1)
                os.dup2(said.fileno(), 2)
            code = work()
        finally:
            sys.stdout.flush()
            os._exit(code)
    return _wait(pid, wall_s)


def _wait(pid: int, wall_s: float) -> int | None:
    until = time.monotonic() + wall_s
    while time.monotonic() < until:
        done, status = os.waitpid(pid, os.WNOHANG)
        if done:
            return os.WEXITSTATUS(status) if os.WIFEXITED(status) else None
        time.sleep(0.02)
    os.killpg(pid, signal.SIGKILL)
    os.waitpid(pid, 0)
    return None


def use_ready_tables() -> None:
    """The copied database was migrated already: the first call, which would do it again, does nothing."""
    from django.core.management.commands.migrate import Command

    plain = Command.handle

    def skipped(*_: Any, **__: Any) -> None:
        Command.handle = plain  # type: ignore[method-assign]

    Command.handle = skipped  # type: ignore[method-assign]


def working_folder() -> Path:
    return KEPT / f"run-{os.getpid()}"


def run_tests(nodes: Iterable[str], *plugins: object) -> int:
    use_ready_tables()
    args = [
        "-q",
        "-x",
        "-p",
        "no:cacheprovider",
        "-m",
        "not browser",
        "--reuse-db",
        "--rootdir",
        str(HOME),
    ]
    return int(pytest.main([*args, *nodes], plugins=list(plugins)))


def keep_an_empty_database() -> None:
    """Migrated once for all children; renewed with the migrations."""
    mark = digest("".join(f"{p}{p.stat().st_size}" for p in sorted(HOME.glob("*/migrations/*.py"))))
    if (KEPT / "empty.txt").exists() and (KEPT / "empty.txt").read_text() == mark:
        return
    (KEPT / "empty.sqlite3").unlink(missing_ok=True)
    folder = working_folder()
    node = "tests/studio/test_append_only.py"
    code = apart(
        lambda: int(pytest.main(["-q", "--reuse-db", node])), folder, cpu_s=120, wall_s=600
    )
    if code != 0:
        raise SystemExit((folder / "said.txt").read_text())
    shutil.copy(folder / "test.sqlite3", KEPT / "empty.sqlite3")
    (KEPT / "empty.txt").write_text(mark)


# What reaches what


class Reach:
    """Notes, for each test, the lines of code and of templates that it enters, its seconds, and whether it held."""

    def __init__(self, out: Path) -> None:
        self.out = out
        self.tests: dict[str, list[Any]] = {}
        self.drawn: dict[str, dict[str, set[int]]] = defaultdict(lambda: defaultdict(set))
        self.now = ""
        self.lines = coverage.Coverage(
            data_file=str(out), config_file=False, source=["studio", "pricing", "jobs"]
        )
        self.lines.start()

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        self.now = item.nodeid
        self.lines.switch_context(item.nodeid)
        began = time.process_time()
        try:
            return (yield)
        finally:
            self.tests.setdefault(item.nodeid, [0.0, True])[0] = time.process_time() - began
            self.lines.switch_context("")
            self.now = ""

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        kept = self.tests.setdefault(report.nodeid, [0.0, True])
        kept[1] = kept[1] and report.outcome == "passed"

    def pytest_collection_finish(self) -> None:
        laws.register_profile("reach", laws.get_profile("house"), max_examples=15)
        laws.load_profile("reach")  # lines are reached by the first few
        from django.template.base import Node

        plain, drawn = Node.render_annotated, self.drawn

        def noted(node: Any, context: Any) -> Any:
            if self.now and node.token and node.origin:
                drawn[node.origin.name][self.now].add(node.token.lineno)
            return plain(node, context)

        Node.render_annotated = noted  # type: ignore[method-assign]

    def save(self) -> None:
        self.lines.stop()
        self.lines.save()
        data = coverage.CoverageData(str(self.out))
        data.read()
        for path, by_test in self.drawn.items():
            for test, lines in by_test.items():
                data.set_context(test)
                data.add_lines({path: lines})
        data.write()
        (self.out.parent / "tests.json").write_text(json.dumps(self.tests))


def sha_of(file: str) -> str:
    at = HOME / file
    return hashlib.sha256(at.read_bytes()).hexdigest()[:16] if at.exists() else ""


def test_files() -> list[str]:
    found = (str(p.relative_to(HOME)) for p in HOME.glob("tests/**/test_*.py"))
    return sorted((f for f in found if not f.startswith("tests/browser/")), reverse=True)


def load(name: str) -> dict[str, Any]:
    at = KEPT / name
    return json.loads(at.read_text()) if at.exists() else {}


def store(name: str, what: object) -> None:
    (KEPT / "new.json").write_text(json.dumps(what))
    (KEPT / "new.json").replace(KEPT / name)


def renew_reach(under: tuple[str, ...], said: Callable[[str], None]) -> None:
    """Run every file of tests again that changed; lines of sources that moved keep the tests that reached them."""
    data = coverage.CoverageData(str(REACH))
    data.read()
    for file in sorted({f for room in ROOMS for f in files_of(room)}):
        _carry_over(data, file)
    kept, shas = load("tests.json"), load("shas.json")
    for file in set(kept) - set(test_files()):
        del kept[file]
    stale = [f for f in test_files() if shas.get(f) != sha_of(f) and f.startswith(under)]
    for i, file in enumerate(stale):
        said(f"reach {i + 1}/{len(stale)}: {file}")
        kept[file] = _reach_of(file)
        store("tests.json", kept)
        store("shas.json", load("shas.json") | {file: sha_of(file)})


def _carry_over(data: coverage.CoverageData, file: str) -> None:
    """Move what is known of a source to where its lines stand now; a new line takes what its neighbours have."""
    now, was = HOME / file, KEPT / "sources" / file
    new = now.read_text()
    old = was.read_text() if was.exists() else new
    was.parent.mkdir(parents=True, exist_ok=True)
    was.write_text(new)
    known = data.contexts_by_lineno(str(now)) if old != new else {}
    if not known:
        return
    lines: defaultdict[str, set[int]] = defaultdict(set)
    matcher = SequenceMatcher(None, old.splitlines(), new.splitlines(), autojunk=False)
    for tag, i1, i2, j1, j2 in matcher.get_opcodes():
        for j in range(j1, j2):
            near = [i1 + j - j1] if tag == "equal" else range(max(i1 - 1, 0), i2 + 1)
            for context in {c for i in near for c in known.get(i + 1, ())}:
                lines[context].add(j + 1)
    data.purge_files([str(now)])
    for context, some in lines.items():
        data.set_context(context)
        data.add_lines({str(now): some})
    data.write()


def _reach_of(file: str) -> dict[str, list[Any]]:
    folder = working_folder()

    def work() -> int:
        notes = Reach(folder / "coverage")
        os.environ.pop("CI")
        use_ready_tables()
        pytest.main(
            ["-q", "-p", "no:cacheprovider", "--reuse-db", "--rootdir", str(HOME), file],
            plugins=[notes],
        )
        notes.save()
        return 0

    if apart(work, folder, cpu_s=900, wall_s=1800) != 0:
        print((folder / "said.txt").read_text()[-2000:])
        return {}
    data, more = coverage.CoverageData(str(REACH)), coverage.CoverageData(str(folder / "coverage"))
    data.read()
    more.read()
    data.update(more)
    data.write()
    return json.loads((folder / "tests.json").read_text())


def _contexts(data: coverage.CoverageData, file: str) -> set[str]:
    data.set_query_contexts(None)
    return {c for found in data.contexts_by_lineno(str(HOME / file)).values() for c in found if c}


class Chooser:
    """Which tests meet a change, the nearest and quickest first."""

    def __init__(self, worth: float = WORTH) -> None:
        self.worth = worth
        self.tests = {n: facts for kept in load("tests.json").values() for n, facts in kept.items()}
        self.data = coverage.CoverageData(str(REACH))
        self.data.read()
        self.lines: dict[str, dict[int, list[str]]] = {}
        self.texts = {f: (HOME / f).read_text() for f in test_files()}

    def for_(self, mutant: Mutant) -> list[str]:
        found = {n for n in self._reaching(mutant) if n in self.tests and self.tests[n][1]}
        if mutant.lines == (0, 0) and "/models" in mutant.file:
            found.add(FIELDS_HELD)
        near = re.escape(mutant.file.removesuffix(".py").replace("/", "."))
        names = re.compile(rf"\b{near}\b|\b{re.escape(mutant.place.split('.')[0] or near)}\b")
        close = {f for f, text in self.texts.items() if names.search(text)}

        def order(node: str) -> tuple[bool, float]:
            return node.split("::")[0] not in close, self.seconds(node)

        chosen, worth = [], 0.0
        for node in sorted(found, key=order):
            if chosen and worth + self.seconds(node) > self.worth:
                continue
            chosen.append(node)
            worth += self.seconds(node)
        return chosen

    def seconds(self, node: str) -> float:
        return self.tests.get(node, [1.0])[0]

    def _reaching(self, mutant: Mutant) -> set[str]:
        known = self.lines.setdefault(
            mutant.file, self.data.contexts_by_lineno(str(HOME / mutant.file))
        )
        first, last = mutant.lines
        if not first:
            own = {n for nodes in known.values() for n in nodes if n}
            return own or {n for f in self._askers(mutant.file) for n in _contexts(self.data, f)}
        if mutant.file.endswith(".html"):  # an elif stands below the line of its if
            first = max((line for line in known if line <= first), default=first)
        return {n for line in range(first, last + 1) for n in known.get(line, ()) if n}

    def _askers(self, file: str) -> list[str]:
        """The sources that import a file which holds values alone."""
        name = re.escape(file.removesuffix(".py").replace("/", "."))
        sources = (f for room in ROOMS for f in files_of(room) if f.endswith(".py"))
        return [f for f in sources if re.search(rf"\b{name}\b", (HOME / f).read_text())]


# One change


class Hook(importlib.abc.MetaPathFinder):
    """Gives one module out of a changed tree."""

    def __init__(self, mutant: Mutant) -> None:
        tree = mutated_tree((HOME / mutant.file).read_text(), mutant.site)
        path = HOME / mutant.file
        self.name = mutant.file.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
        code = compile(tree, str(path), "exec", dont_inherit=True)

        class Loader(importlib.machinery.SourceFileLoader):
            def get_code(self, fullname: str) -> Any:
                return code

        self.spec = importlib.util.spec_from_file_location(
            self.name, path, loader=Loader(self.name, str(path))
        )

    def find_spec(self, name: str, *_: Any) -> Any:
        return self.spec if name == self.name else None


def change_template(mutant: Mutant) -> None:
    from django.template.loaders.filesystem import Loader

    plain = Loader.get_contents
    text = mutated_template((HOME / mutant.file).read_text(), mutant.site)

    def changed(loader: Any, origin: Any) -> str:
        return text if origin.name == str(HOME / mutant.file) else plain(loader, origin)

    Loader.get_contents = changed  # type: ignore[method-assign]


class Teller:
    """Says which test is under way, and which failed first."""

    def __init__(self, at: Path) -> None:
        self.at = at

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        self.at.write_text(nodeid)


def try_out(mutant: Mutant, nodes: list[str]) -> tuple[str, str]:
    """What became of it, and the test that told: killed, hung or survived."""
    folder = working_folder()

    def work() -> int:
        if mutant.file.endswith(".html"):
            change_template(mutant)
        else:
            sys.meta_path.insert(0, Hook(mutant))
        return run_tests(nodes, Teller(folder / "now.txt"))

    code = apart(work, folder, cpu_s=SECONDS, wall_s=3 * SECONDS)
    said = (folder / "said.txt").read_text()
    if gone := set(re.findall(r"^ERROR: not found: .*?(tests/\S+?\.py::.*)$", said, re.MULTILINE)):
        # renamed since their reach was noted
        left = [node for node in nodes if not {node, node.partition("[")[0]} & gone]
        return try_out(mutant, left) if left and left != nodes else ("untested", "")
    now = (folder / "now.txt").read_text() if (folder / "now.txt").exists() else "as it was read"
    if code is None:
        return "hung", now
    return ("survived", "") if code == 0 else ("killed", now)


# The run and what it says


def equal_ones() -> dict[str, str]:
    at = HOME / "tests" / "mutants.toml"
    kept = tomllib.loads(at.read_text()).get("same", []) if at.exists() else []
    return {f"{k['file']}|{k['place']}|{k['change']}": k["reason"] for k in kept}


def reason_for(mutant: Mutant, reasons: dict[str, str]) -> str:
    return reasons.get(mutant.name.rsplit("|", 1)[0], "")


def run_room(room: str, size: int, seed: int, chooser: Chooser) -> list[tuple[Mutant, str, str]]:
    results, out = load("results.json"), []
    mutants = sample(room, size, seed)
    for i, mutant in enumerate(mutants):
        nodes = chooser.for_(mutant)
        mark = digest("".join(sorted({n.split("::")[0] + sha_of(n.split("::")[0]) for n in nodes})))
        kept = results.get(mutant.name)
        held = (
            kept
            and kept["unit"] == mutant.unit
            and (kept["outcome"] in ("killed", "hung") or kept["tests"] == mark)
        )
        if not held:
            outcome, by = try_out(mutant, nodes) if nodes else ("untested", "")
            kept = {"unit": mutant.unit, "tests": mark, "outcome": outcome, "by": by}
            results = load("results.json") | {mutant.name: kept}
            store("results.json", results)
            where = f"{mutant.file}:{mutant.lines[0]} {mutant.place}"
            print(
                f"{room} {i + 1}/{len(mutants)} {outcome}: {where}: {mutant.change[:150]}",
                flush=True,
            )
        out.append((mutant, kept["outcome"], kept["by"]))
    return out


def told(room: str, found: list[tuple[Mutant, str, str]], reasons: dict[str, str]) -> list[str]:
    """The row of a room, then its survivors with their reasons."""
    counts = Counter(
        "same" if outcome == "survived" and reason_for(m, reasons) else outcome
        for m, outcome, _ in found
    )
    killed = counts["killed"] + counts["hung"]
    judged = len(found) - counts["same"]
    lines = [
        f"{room:18}{len(found):8}{killed:8}{counts['survived']:10}{counts['untested']:10}{counts['same']:6}"
        f"{100 * killed / max(judged, 1):9.0f} %"
    ]
    for m, outcome, _ in found:
        if outcome in ("survived", "untested"):
            why = reason_for(m, reasons) or outcome
            lines.append(f"    {m.file}:{m.lines[0] or ''} {m.place}: {m.change[:160]}  ({why})")
    return lines


def what_is_asked(words: list[str] | None = None) -> argparse.Namespace:
    asked = argparse.ArgumentParser(description="What do the tests hold?")
    asked.add_argument("--room", action="append", choices=ROOMS)
    asked.add_argument("--size", type=int, default=60)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument(
        "--list", action="store_true", help="the sample, and how many tests meet each"
    )
    asked.add_argument("--worth", type=float, default=WORTH, help="seconds of tests for one change")
    asked.add_argument("--reach-only", action="store_true")
    asked.add_argument(
        "--tests", action="append", help="renew the reach of tests that begin so alone"
    )
    asked.add_argument(
        "--as-is", action="store_true", help="with what is known of the tests' reach"
    )
    return asked.parse_args(words)


def main() -> int:
    wants = what_is_asked()
    rooms = wants.room or list(ROOMS)
    os.chdir(HOME)
    KEPT.mkdir(parents=True, exist_ok=True)
    keep_an_empty_database()
    for heavy in HEAVY:
        importlib.import_module(heavy)  # once, here: the children share it
    if not wants.as_is:
        renew_reach(tuple(wants.tests or [""]), lambda s: print(s, flush=True))
    if wants.reach_only:
        return 0
    chooser, reasons = Chooser(wants.worth), equal_ones()
    if wants.list:
        for room in rooms:
            for m in sample(room, wants.size, wants.seed):
                print(room, len(chooser.for_(m)), m.name)
        return 0
    report = [
        f"{'room':18}{'sample':>8}{'killed':>8}{'survived':>10}{'untested':>10}{'same':>6}{'held':>11}"
    ]
    for room in rooms:
        report += told(room, run_room(room, wants.size, wants.seed, chooser), reasons)
    text = f"seed {wants.seed}, at most {wants.size} a room\n" + "\n".join(report) + "\n"
    (KEPT / "report.txt").write_text(text)
    print(text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
