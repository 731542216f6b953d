"""The figures of the house, each beside its yardstick in one run: `make bench`.

Machines are shared and noisy, so a figure is a median, and what counts is the ratio to its yardstick.
"""

from __future__ import annotations

import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import django
import numpy as np

from tests.bench_buying import months, one_job, season

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")


def median_ms(work: Callable[[], object], times: int) -> float:
    work()
    took = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        took.append((time.perf_counter() - start) * 1000)
    return statistics.median(took)


def row(name: str, ms: float, yardstick: str, its_ms: float, bound: float) -> bool:
    ratio = ms / its_ms
    holds = ratio <= bound
    print(
        f"{name:44} {ms:8.1f} ms   {ratio:6.2f} × {yardstick} ({its_ms:.1f} ms); at most {bound:g} {'✓' if holds else '✗'}"
    )
    return holds


def design_change() -> bool:
    """A change on the design screen: about 300 balloons against the plainest signed-in page, then 2,000."""
    from django.urls import reverse

    from tests.conftest import signed_in
    from tests.factories import a_designed_job, a_stocked_access

    access = a_stocked_access()
    browser = signed_in(access)
    job = spanning(a_designed_job(access, "gym-doors", venue__ceiling_m=8.0), ABOUT_300)
    look = Look(browser, job)

    def plainest() -> None:
        assert browser.get(reverse("studio:password")).status_code == 200

    its = median_ms(plainest, 200)
    took = sorted(look.times_ms(100))
    p95, kilobytes = took[94], look.svg_bytes / 1000
    print(
        f"   {look.balls} balloons: p95 {p95:.1f} ms, at most 120; SVG {kilobytes:.1f} kB, under 60"
    )
    held = row("design change: picture, counts, price", took[50], "the plainest page", its, 20)
    large = a_designed_job(access, "gym-doors", venue__ceiling_m=40.0)
    crowd = Look(browser, spanning(large, {"span_m": 38.0, "rise_m": 33.0}))
    slow = statistics.median(crowd.times_ms(15))
    print(f"   {crowd.balls} balloons: {slow:.1f} ms, at most 400")
    enough = look.balls > 250 and crowd.balls >= 1_900
    return held and enough and p95 <= 120 and kilobytes < 60 and slow <= 400


ABOUT_300 = {"span_m": 4.2, "rise_m": 3.6}


def spanning(job: Any, support: dict[str, float]) -> Any:
    """The same job with its arch of other sides."""
    row = job.designs.get()
    row.document["pieces"][0]["support"] |= support
    row.save()
    return job


class Look:
    """One change after another on a job's design screen."""

    def __init__(self, browser: Any, job: Any) -> None:
        from django.urls import reverse

        from tests.jobs.test_design_page import typed

        support = job.designs.get().document["pieces"][0]["support"]
        self.browser, self.at = browser, reverse("jobs:design", args=[job.number])
        self.data = {**typed(browser.get(self.at).context["sheet"]), "version": "1", "do": "look"}
        self.span_mm, self.turn = round(support["span_m"] * 1000), 0
        page = self.change()
        self.balls = page.count(b'class="ball"')
        self.svg_bytes = len(page.partition(b"<svg")[2].partition(b"</svg>")[0])

    def change(self) -> bytes:
        self.turn += 1
        self.data["p0-support-span_m"] = f"{self.span_mm + self.turn % 20} mm"
        answer = self.browser.post(self.at, self.data, headers={"HX-Request": "true"})
        assert answer.status_code == 200, answer.content[:500]
        return bytes(answer.content)

    def times_ms(self, times: int) -> list[float]:
        took = []
        for _ in range(times):
            start = time.perf_counter()
            self.change()
            took.append((time.perf_counter() - start) * 1000)
        return took


def proposal_pdf() -> bool:
    """The proposal's PDF against the same HTML printed by headless chromium, fresh and warm."""
    from django.template.loader import render_to_string

    from jobs.proposal.offering import Words, draft_offer, print_offer
    from tests.factories import a_designed_job, a_stocked_access

    access = a_stocked_access()
    job = spanning(a_designed_job(access, "gym-doors", venue__ceiling_m=8.0), ABOUT_300)
    draft = draft_offer(
        access, job, Words(greeting="Dear you,", note=""), on=job.event_start.date()
    )
    assert draft.article.count('class="ball"') > 250
    facts = {"article": draft.article, "studio": access.studio, "number": draft.number}
    with tempfile.TemporaryDirectory() as folder:
        page = Path(folder) / "proposal.html"
        page.write_text(styled(render_to_string("papers/proposal.html", facts)))
        fresh, warm = fresh_ms(page, Path(folder) / "out.pdf"), warm_ms(page)
        ours = median_ms(lambda: print_offer(access.studio, draft.article, draft.number), 9)
    beside = [
        row("proposal PDF", ours, "a fresh chromium", fresh, 0.5),
        row("proposal PDF", ours, "a warm chromium", warm, 0.8),
    ]
    return all(beside)


def styled(html: str) -> str:
    """The paper as a browser must be given it to print the same: with our style and fonts."""
    from studio.paper import SCHEME, STATIC

    css = (STATIC / "paper.css").read_text().replace(f"{SCHEME}:", f"{STATIC.as_uri()}/")
    return html.replace("</head>", f"<style>{css}</style></head>", 1)


def fresh_ms(page: Path, out: Path) -> float:
    """A browser started for one paper."""
    from tests.browser.conftest import ARGS

    browser = shutil.which("chromium")
    assert browser, "chromium: expected it on PATH, got none"

    def fresh() -> None:
        out.unlink(missing_ok=True)
        with tempfile.TemporaryDirectory() as profile:
            words = [
                browser,
                "--headless",
                *ARGS,
                f"--user-data-dir={profile}",
                "--no-pdf-header-footer",
            ]
            subprocess.run(
                [*words, f"--print-to-pdf={out}", page.as_uri()],
                check=True,
                capture_output=True,
                timeout=60,
            )
        assert out.stat().st_size > 10_000

    return median_ms(fresh, 7)


def warm_ms(page: Path) -> float:
    """A browser that is up already, with a new page for each paper."""
    from playwright.sync_api import sync_playwright

    from tests.browser.conftest import launch

    with sync_playwright() as playwright:
        browser = launch(playwright)

        def warm() -> None:
            sheet = browser.new_page()
            sheet.goto(page.as_uri())
            assert len(sheet.pdf(format="A4", print_background=True)) > 10_000
            sheet.close()

        its = median_ms(warm, 9)
        browser.close()
    return its


def stored_pdf() -> bool:
    """A sent proposal from the store against a file of its size from Django's own static view, same middleware."""
    from django.contrib.auth.decorators import login_not_required
    from django.test import Client
    from django.urls import clear_url_caches, path, reverse
    from django.views.static import serve

    from jobs.proposal.links import live_token
    from studio import urls
    from tests.factories import a_designed_job, a_stocked_access
    from tests.papers import an_offer

    access = a_stocked_access()
    offer = an_offer(access, a_designed_job(access))
    at = reverse("jobs:offer-page-pdf", args=[live_token(access, offer)])
    size = len(offer.pdf)
    browser = Client()
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "as.pdf").write_bytes(bytes(offer.pdf))
        entry = path(
            "bench/<path:path>", login_not_required(serve), {"document_root": Path(folder)}
        )
        urls.urlpatterns.append(entry)
        clear_url_caches()
        its = median_ms(lambda: len(b"".join(browser.get("/bench/as.pdf"))), 200)
        ours = median_ms(lambda: browser.get(at), 200)
        assert len(browser.get(at).content) == len(b"".join(browser.get("/bench/as.pdf"))) == size
        urls.urlpatterns.remove(entry)
        clear_url_caches()
    return row(f"sent proposal, {size / 1000:.0f} kB", ours, "a static file", its, 3)


def counting() -> bool:
    """Take-off of garlands from 300 to 50,000 balls: milliseconds, and the exponent of their growth."""
    from jobs.design.compose import compose
    from jobs.design.labour import tally_labour
    from jobs.design.needs import count_needs
    from jobs.design.practice import PRACTICE
    from jobs.design.sizing import size_balloons
    from tests.strategies import a_design, a_piece, a_run

    def garlands(balls: int) -> Any:
        """Rails of at most 55 m, their eights laid end to end."""
        metres = balls / 8 * PRACTICE.squeeze * 0.12 * 2 * 2**-0.25
        count = int(metres / 55) + 1
        rail = {"kind": "rail", "run_m": metres / count, "height_m": 1}
        pieces = [a_piece(rail, runs=[a_run()]) for _ in range(count)]
        return a_design(*pieces, size="5 in", blown_m=0.12)

    def count(design: Any) -> int:
        composition = compose(design, PRACTICE)
        count_needs(design, composition, PRACTICE)
        tally_labour(design, composition, PRACTICE)
        size_balloons(composition, design, PRACTICE)
        return sum(len(c.balls) for c in composition.clusters)

    sizes, took = [], []
    for balls in (300, 1_000, 5_000, 15_000, 50_000):
        design = garlands(balls)
        sizes.append(count(design))
        took.append(median_ms(lambda d=design: count(d), 9 if balls > 5_000 else 31))  # type: ignore[misc]
        print(f"   {sizes[-1]:6} balls counted in {took[-1]:8.2f} ms")
    exponent = float(np.polyfit(np.log(sizes), np.log(took), 1)[0])
    # n log n over the same sizes, fitted alike: the steepest growth that is still accepted.
    allowed = float(np.polyfit(np.log(sizes), np.log(np.array(sizes) * np.log(sizes)), 1)[0])
    holds = took[0] < 5 and took[2] < 60 and exponent <= allowed
    print(
        f"{'counting':44} exponent {exponent:.3f}, at most {allowed:.3f}; "
        f"300 balls under 5 ms, 5,000 under 60 ms {'✓' if holds else '✗'}"
    )
    return holds


def main() -> int:
    django.setup()
    from django.test.utils import get_runner, setup_test_environment, teardown_test_environment

    setup_test_environment()
    runner = get_runner(django.conf.settings)(verbosity=0, interactive=False)
    databases = runner.setup_databases()
    try:
        held = [
            *(counting(), design_change(), proposal_pdf(), stored_pdf()),
            *(months(), one_job(), season()),
        ]
    finally:
        runner.teardown_databases(databases)
        teardown_test_environment()
    return 0 if all(held) else 1


if __name__ == "__main__":
    sys.exit(main())
