"""The pictures of the README, made from the demo by a real browser: `make pictures`."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"
KEPT = Path(__file__).parent.parent / "static" / "pictures"


def proposal(scale: float = 1.4) -> None:
    """The first page of a proposal that was sent."""
    import pypdfium2

    from jobs.models import Offer

    offer = Offer.objects.get(job__title="Leavers’ evening")
    page = pypdfium2.PdfDocument(bytes(offer.pdf))[0]
    page.render(scale=scale).to_pil().convert("P", palette=1, colors=128).save(
        KEPT / "proposal.png", optimize=True
    )


def screens(address: str) -> None:
    from PIL import Image
    from playwright.sync_api import sync_playwright

    from jobs.demo import MAIL, PASSWORD
    from tests.browser.conftest import launch, sign_in

    with sync_playwright() as playwright:
        page = launch(playwright).new_page(
            viewport={"width": 1280, "height": 900}, base_url=address
        )
        sign_in(page, MAIL, PASSWORD)
        for name, at in (("design", "/jobs/4/design/"), ("today", "/")):
            page.goto(at)
            path = KEPT / f"{name}.png"
            page.screenshot(path=path)
            Image.open(path).convert("P", palette=1, colors=128).save(path, optimize=True)


def main() -> int:
    django.setup()
    from django.conf import settings
    from django.test.testcases import LiveServerThread
    from django.test.utils import get_runner, setup_test_environment

    from jobs.demo import load_demo
    from studio.append_only import lower_guards

    KEPT.mkdir(exist_ok=True)
    setup_test_environment()
    runner: Any = get_runner(settings)(verbosity=0, interactive=False)
    databases = runner.setup_databases()
    from django.contrib.staticfiles.handlers import StaticFilesHandler

    server = LiveServerThread("127.0.0.1", StaticFilesHandler)
    try:
        load_demo()
        proposal()
        server.daemon = True
        server.start()
        server.is_ready.wait()
        screens(f"http://127.0.0.1:{server.port}")
    finally:
        server.terminate()
        lower_guards()
        runner.teardown_databases(databases)
    return 0


if __name__ == "__main__":
    sys.exit(main())
