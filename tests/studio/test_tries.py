"""Tries of passwords: counted in the database, for a mail together with where they come from."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.core.cache import cache
from django.http import HttpResponse
from django.test import Client, RequestFactory
from django.urls import reverse
from django.utils import timezone

from studio.access import Access
from studio.models import Tries
from studio.tries import TRIES, TRIES_OF_ADDRESS, WINDOW, address_of, is_one_too_many
from tests.factories import PASSWORD

HERE, THERE = "198.51.100.7", "203.0.113.9"  # RFC 5737: for documentation
STOPPED = b"Too many tries"


def sign_in(access: Access, password: str, *, at: str, browser: Client | None = None, mail: str = "", **more: str) -> HttpResponse:  # fmt: skip
    assert access.person
    told = {"username": mail or access.person.mail, "password": password}
    answer = (browser or Client()).post(reverse("studio:sign-in"), told, REMOTE_ADDR=at, **more)
    return answer  # type: ignore[return-value]


def test_strangers_tries_never_lock_the_owner_out(access: Access) -> None:
    for i in range(3 * TRIES):
        sign_in(access, "wrong", at=f"203.0.113.{i % 3}")
    assert STOPPED in sign_in(access, PASSWORD, at="203.0.113.0").content
    assert sign_in(access, PASSWORD, at=HERE).status_code == 302


def test_a_browser_known_here_is_not_locked_out_by_others_behind_its_address(
    access: Access,
) -> None:
    owners = Client()
    assert sign_in(access, PASSWORD, at=HERE, browser=owners).status_code == 302
    owners.post(reverse("studio:sign-out"))
    for _ in range(TRIES_OF_ADDRESS + 5):
        sign_in(access, "wrong", at=HERE)
    assert STOPPED in sign_in(access, PASSWORD, at=HERE).content
    assert sign_in(access, PASSWORD, at=HERE, browser=owners).status_code == 302


def test_a_known_browser_guesses_no_more_often_than_another(access: Access) -> None:
    owners = Client()
    sign_in(access, PASSWORD, at=HERE, browser=owners)
    owners.post(reverse("studio:sign-out"))
    for _ in range(TRIES):
        assert STOPPED not in sign_in(access, "wrong", at=HERE, browser=owners).content
    assert STOPPED in sign_in(access, PASSWORD, at=HERE, browser=owners).content


def test_a_browser_is_known_for_its_own_mail_alone(access: Access, stranger: Access) -> None:
    browser = Client()
    assert stranger.person
    sign_in(stranger, PASSWORD, at=THERE, browser=browser)
    browser.post(reverse("studio:sign-out"))
    for _ in range(TRIES):
        sign_in(access, "wrong", at=THERE)
    assert STOPPED in sign_in(access, PASSWORD, at=THERE, browser=browser).content


def test_one_address_does_not_walk_through_mails(access: Access) -> None:
    for i in range(TRIES_OF_ADDRESS):
        sign_in(access, "wrong", at=THERE, mail=f"a{i}@example.com")
    assert STOPPED in sign_in(access, "wrong", at=THERE, mail="another@example.com").content


def test_the_count_outlives_the_process(access: Access) -> None:
    for _ in range(TRIES):
        sign_in(access, "wrong", at=THERE)
    cache.clear()
    assert STOPPED in sign_in(access, PASSWORD, at=THERE).content
    assert access.person
    kept = str(list(Tries.objects.values()))
    assert access.person.mail not in kept
    assert THERE not in kept


def test_a_quarter_of_an_hour_later_one_may_try_again(access: Access) -> None:
    start = timezone.now()
    with time_machine.travel(start, tick=False):
        for _ in range(TRIES):
            sign_in(access, "wrong", at=THERE)
    with time_machine.travel(start + WINDOW - timedelta(seconds=1), tick=False):
        assert STOPPED in sign_in(access, PASSWORD, at=THERE).content
    with time_machine.travel(start + WINDOW, tick=False):
        assert sign_in(access, PASSWORD, at=THERE).status_code == 302


def test_the_right_password_forgets_the_slips_before_it(access: Access) -> None:
    for _ in range(2):
        for _ in range(TRIES - 1):
            sign_in(access, "wrong", at=HERE)
        assert sign_in(access, PASSWORD, at=HERE).status_code == 302


def test_old_counts_are_swept_away(db: None) -> None:
    with time_machine.travel(timezone.now() - timedelta(days=2)):
        is_one_too_many("x", most=3)
    is_one_too_many("y", most=3)
    assert Tries.objects.count() == 1


@pytest.mark.parametrize(
    ("proxies", "forwarded", "where"),
    [
        (0, f"{HERE}", THERE),  # nobody is believed who was not said to be ours
        (1, HERE, HERE),
        (1, f"192.0.2.1, {HERE}", HERE),  # what a client makes up stands further left
        (2, f"192.0.2.1, {HERE}, 10.0.0.2", HERE),
        (2, HERE, THERE),  # came past one of them
        (1, "2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        (1, "2001:db8:1:2::9", "2001:db8:1:2::/64"),
        (1, f"::ffff:{HERE}", HERE),
        (1, "not an address", "not an address"),
    ],
)
def test_where_a_try_comes_from(settings: Any, proxies: int, forwarded: str, where: str) -> None:
    settings.PROXIES = proxies
    request = RequestFactory().get("/", REMOTE_ADDR=THERE, HTTP_X_FORWARDED_FOR=forwarded)
    assert address_of(request) == where
