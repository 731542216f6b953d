"""A real browser on a real server."""

from __future__ import annotations

import os
import re
import shutil
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.request import urlopen

import pytest
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    Playwright,
    expect,
    sync_playwright,
)

ARGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
expect.set_options(timeout=15_000)  # a shared machine is slow now and then
AXE = (Path(__file__).parent / "axe.min.js").read_text()


def launch(playwright: Playwright) -> Browser:
    """Debian's chromium. A missing browser is a failure, never a silent skip."""
    found = shutil.which("chromium")
    assert found, "chromium: expected it on PATH, got none; `make test` installs it."
    return playwright.chromium.launch(executable_path=found, args=ARGS)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    # Playwright's own loop makes Django believe that it runs inside an async view.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"
    with sync_playwright() as playwright:
        browser = launch(playwright)
        yield browser
        browser.close()
    del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


type Opener = Callable[..., Page]


@pytest.fixture
def open_page(chromium: Browser, committed: None, live_server: Any) -> Iterator[Opener]:
    """Open a page in a context of its own; a message of error on its console fails the test."""
    contexts: list[BrowserContext] = []
    faults: list[str] = []

    def opened(
        wide: int = 1280, high: int = 900, *, lets: tuple[str, ...] = (), **options: Any
    ) -> Page:
        """`lets` are words of messages that the test brings about itself."""

        def hear(message: ConsoleMessage) -> None:
            ours = ("status of 4", *lets)
            if message.type in ("error", "warning") and not any(x in message.text for x in ours):
                faults.append(message.text)

        context = chromium.new_context(
            viewport={"width": wide, "height": high},
            base_url=live_server.url,
            locale="en-GB",
            **options,
        )
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(15_000)
        page.on("console", hear)
        page.on("pageerror", lambda error: faults.append(str(error)))
        return page

    yield opened
    for context in contexts:
        context.close()
    let_server_finish(live_server.url)
    assert faults == []


def let_server_finish(url: str) -> None:
    """Wait until the server has answered all that the closed browser asked.

    A save still on its way would meet the emptying of the tables (on PostgreSQL a deadlock), or write into the next
    test's. The listener takes connections in order: once it answers this one, every earlier one has its thread.
    """
    urlopen(f"{url}/sign-in/", timeout=20).close()
    for thread in threading.enumerate():
        if "process_request_thread" in thread.name:
            thread.join(20)
            assert not thread.is_alive(), f"{thread.name}: expected its end within 20 s"


def sign_in(page: Page, mail: str, password: str) -> None:
    page.goto("/sign-in/")
    page.get_by_label("E-mail").fill(mail)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(re.compile(r":\d+/$"))


def assert_accessible(page: Page) -> None:
    """No violation of WCAG 2.2 A and AA that axe-core (4.14) can find."""
    page.evaluate(AXE)
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    found = page.evaluate("tags => axe.run(document, {runOnly: {type: 'tag', values: tags}})", tags)
    told = [
        f"{v['id']}: {v['help']}: {[n['html'][:160] for n in v['nodes'][:3]]}"
        for v in found["violations"]
    ]
    assert told == [], page.url


def assert_fits(page: Page) -> None:
    """Nothing is wider than the screen (WCAG 1.4.10)."""
    wide = page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    assert wide <= 0, f"{page.url} is {wide} px wider than the screen"
