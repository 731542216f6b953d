"""A studio of our own invention, with jobs at every stage and dates that follow today.

Everything goes through the same functions as a person's presses, so the demo is what the house makes.
"""

from __future__ import annotations

import json
import zoneinfo
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from jobs.after.time_taken import counted_for, record_time
from jobs.closing import close_job
from jobs.design.document import Design
from jobs.design.options import Option, Part
from jobs.design.reading import read_design
from jobs.design_editing import SeenDesign, save_design
from jobs.inputs import chosen_row
from jobs.log import write_log
from jobs.models import Client, Job, Offer, Shade, Venue
from jobs.money.invoicing import issue_invoice
from jobs.money.ledger import record_payment
from jobs.proposal.accepting import accept_offer
from jobs.proposal.certificate import ClientYes
from jobs.proposal.choices import wording_of
from jobs.proposal.offering import Words, send_offer
from jobs.rows import next_number
from jobs.stages import S, move_to_stage
from pricing.book.starter import stock_starter, stock_suppliers
from pricing.core.instalments import BALANCE, DEPOSIT
from pricing.models import KitBooking, KitItem, KitNote, Price, RateCard
from pricing.stores.kit import check_in
from pricing.stores.stock import put_in_stock
from studio.access import Access
from studio.models import Membership, Person, Studio
from studio.permissions import CREW, OWNER

MAIL, PASSWORD = "maren@quillmoor.example", "paper-lantern-42"
CREW_MAIL = "jun@quillmoor.example"
ZONE = zoneinfo.ZoneInfo("Europe/London")
TERMS = """The date is held once the deposit is here. Changes to colours are possible until three weeks before.
Outdoors, wind and weather may make us build lower, move the piece or take it down; safety decides."""
DESIGNS = Path(settings.HOME) / "tests" / "data"


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """One job of the demo."""

    title: str
    client: tuple[str, str, str]
    venue: dict[str, object]
    days: int  # from today
    hours: tuple[int, int]
    design: str = ""
    stages: tuple[
        str, ...
    ] = ()  # how far it went: priced, offered, accepted, deposit, paid, then by hand
    km: int = 12
    latex: str = Job.Latex.NONE
    palette: str = ""  # a design's colours taken from another one
    extras: tuple[
        tuple[str, str], ...
    ] = ()  # parts of the first piece that the client may tick: name, part


GYM = {
    "name": "Quillmoor Upper School, gymnasium", "address": "Ropewalk Lane, Quillmoor", "ceiling_m": 6.0,
    "door_width_m": 1.7, "door_height_m": 2.1, "floor": "sprung wood",
    "access": "Side door by the bicycle shed; the caretaker has the key.",
}  # fmt: skip
LAKE = {
    "name": "Heron Landing, Lake Orrin", "address": "Shore Path, Orrinside", "outdoors": True, "floor": "lawn",
    "access": "Park at the boathouse, 80 m over grass.",
}  # fmt: skip
SHOP = {
    "name": "Lantern & Thread, Quillmoor", "address": "9 Candlewick Row, Quillmoor", "ceiling_m": 2.4384,
    "door_width_m": 0.84, "door_height_m": 2.03, "floor": "tiles", "access": "Before the shop opens at ten.",
}  # fmt: skip
HALL = {
    "name": "Old Grange, Thornby", "address": "Mill Bank, Thornby", "ceiling_m": 3.4, "door_width_m": 1.2,
    "door_height_m": 2.1, "floor": "flagstones", "access": "Two steps up.",
}  # fmt: skip

SHELVES = (
    ("balloon/11 in/ivory", 64, "A2", 40), ("balloon/5 in/ivory", 120, "A1", 40),
    ("balloon/11 in/sage", 18, "A2", 410),
    ("tie/260", 85, "A5", 90), ("fastener/cable tie", 60, "C1", 200), ("tape/low profile", 12, "C1", 200),
)  # fmt: skip
KIT = (
    ("frame/ring", "ring frame, 2.3 m", ("no. 1",)), ("frame/arch", "arch frame", ("no. 1", "no. 2")),
    ("frame/rail", "rail and uprights", ("no. 1", "no. 2")), ("frame/column", "pole and base plate", ("a", "b")),
    ("weight/ballast", "ballast weight, 20 kg", ("1", "2", "3", "4")), ("tool/pump", "electric pump", ("no. 1",)),
)  # fmt: skip
SHADES = (
    ("ivory", "#efe6d2", "matt"), ("blush", "#e8b9ae", "matt"), ("sage", "#9db092", "pearl"),
    ("old gold", "#c8a24c", "metallic"), ("plum", "#6d2f4f", "matt"), ("cream", "#f3ead8", "pearl"),
)  # fmt: skip

TO_THE_YES = (S.PRICED, S.OFFERED, S.ACCEPTED)
SCENES = (
    Scene(
        title="Harvest supper", client=("Odile Farrant", "odile@farrant.example", "+442079460101"), venue=HALL,
        days=-18, hours=(18, 23), design="gym-doors", palette="lakeside",
        stages=(
            *TO_THE_YES, "deposit", "invoiced", "paid", S.READY, S.UP, S.DOWN, "timed", S.CLOSED,
        ),
    ),
    Scene(
        title="Anniversary lunch by the lake", client=("Ivo and Tess Pellam", "pellam@mail.example", "+442079460102"),
        venue=LAKE, days=6, hours=(12, 17), design="lakeside", km=34,
        stages=(*TO_THE_YES, "deposit"),
    ),
    Scene(
        title="Leavers’ evening", client=("Ada Brennock", "ada@brennock.example", "+442079460103"),
        venue=GYM, days=24, hours=(19, 23), design="gym-doors", stages=(S.PRICED, S.OFFERED),
        extras=(("Small accents", "accents"),),
    ),
    Scene(
        title="The shop is ten", client=("Rufus Amadi", "rufus@lanternthread.example", "+442079460104"), venue=SHOP,
        days=40, hours=(10, 18), design="shop-tenth", stages=(S.PRICED,), km=4,
        extras=(("Greenery", "greenery"), ("Ribbon tails", "tails"), ("Balloons over the floor", "skirt")),
    ),
    Scene(
        title="Naming day for Wren", client=("Hal and Imke Sorrel", "sorrel@mail.example", "+442079460105"),
        venue=HALL, days=58, hours=(14, 18), latex=Job.Latex.NOT_ASKED,
    ),
    Scene(
        title="Lantern walk by the water", client=("Oswin Tarrow", "oswin@tarrow.example", "+442079460106"),
        venue=LAKE, days=26, hours=(16, 20), design="lakeside", km=34, stages=TO_THE_YES,
    ),
)  # fmt: skip


@transaction.atomic
def load_demo(on: date | None = None) -> Access:
    """Make the demo studio with its people, price book and jobs."""
    studio = Studio.objects.create(
        name="Quillmoor Décor", address="2 Tannery Yard\nQuillmoor", mail=MAIL, phone="020 7946 0100",
        currency="GBP", language="en-GB", timezone=ZONE.key, units="imperial", paper="A4",
        tax_number="GB 999 9999 73", terms=TERMS, balance_days=10,
    )  # fmt: skip
    today = on or studio.today()
    owner = Person.objects.create_user(MAIL, PASSWORD, name="Maren Okell")
    crew = Person.objects.create_user(CREW_MAIL, PASSWORD, name="Jun Halloran")
    Membership.objects.create(studio=studio, person=owner, role=OWNER)
    Membership.objects.create(studio=studio, person=crew, role=CREW)
    access = Access(studio, owner, OWNER)
    since = today - timedelta(days=90)
    stock_starter(access, tax_name="VAT", tax_percent=Decimal(20), since=since)
    stock_suppliers(access, since=since)
    access.rows(RateCard).update(
        is_example=False
    )  # it has confirmed all but the gas, which it never bought
    access.rows(Price).exclude(supply__key="gas/helium").update(is_example=False)
    fill_stores(access, today)
    with timezone.override(ZONE):
        for scene in SCENES:
            play_scene(access, scene, today)
    return access


def fill_stores(access: Access, today: date) -> None:
    """Some leftovers on the shelves, frames and tools of the studio's own, a few shades."""
    for key, many, shelf, days in SHELVES:
        put_in_stock(
            access,
            key,
            Decimal(many),
            on=today - timedelta(days=days),
            shelf=shelf,
            why="left over",
        )
    for key, name, marks in KIT:
        for mark in marks:
            access.add(KitItem, key=key, name=name, mark=mark)
    for name, hex_, finish in SHADES:
        access.add(Shade, name=name, hex=hex_, finish=finish)


def play_scene(access: Access, scene: Scene, today: date) -> Job:
    """Open one job and take it as far as its scene says."""
    job = open_scene(access, scene, today)
    if scene.design:
        save_design(access, job, design_of_scene(scene), SeenDesign())
        row = chosen_row(access, job)
        options = [Option(name=name, parts=(Part(0, what),)) for name, what in scene.extras]
        if row and options:
            row.options = [option.model_dump(mode="json") for option in options]
            row.save(update_fields=["options"])
    sent_on = min(today, today + timedelta(days=scene.days - 30))
    for stage in scene.stages:
        take_to_stage(access, job, stage, sent_on)
    return job


def open_scene(access: Access, scene: Scene, today: date) -> Job:
    name, mail, phone = scene.client
    known = access.rows(Venue).filter(name=scene.venue["name"]).first()
    day = today + timedelta(days=scene.days)
    start, end = (datetime.combine(day, time(hour), ZONE) for hour in scene.hours)
    job = access.add(
        Job,
        number=next_number(access),
        title=scene.title,
        client=access.add(Client, name=name, mail=mail, phone=phone),
        venue=known or access.add(Venue, **scene.venue),
        event_start=start,
        event_end=end,
        access_from=start - timedelta(hours=4),
        clear_by=end + timedelta(hours=2),
        latex=scene.latex,
        travel_km=scene.km,
    )
    write_log(access, job, "Enquiry opened")
    return job


def design_of_scene(scene: Scene) -> Design:
    design = read_design((DESIGNS / f"{scene.design}.json").read_bytes())
    if scene.palette:
        other = json.loads((DESIGNS / f"{scene.palette}.json").read_text())["palette"]
        data = json.loads(design.model_dump_json())
        data["palette"] = other
        data["pieces"][0]["accents"]["weights"] = {}
        design = read_design(json.dumps(data))
    return design


def take_to_stage(access: Access, job: Job, stage: str, sent_on: date) -> None:
    """One step of a job's life."""
    today = access.studio.today()
    if stage == S.OFFERED:
        words = Words(
            greeting=f"Dear {job.client.name},",
            note="Thank you for asking us. Here is what we have in mind.",
        )
        send_offer(access, job, words, at=noon(sent_on), link_for=demo_link)
    elif stage == S.ACCEPTED:
        offer = access.row(Offer, job=job)
        wording = wording_of(access, offer)
        yes = ClientYes(name=job.client.name, wording=wording, address=None, agent="demo")
        accept_offer(access, offer, yes, at=noon(sent_on + timedelta(days=1)))
    elif stage == "invoiced":
        issue_invoice(access, job, on=min(sent_on + timedelta(days=10), today))
    elif stage == "timed":
        record_demo_time(access, job)
    elif stage in ("deposit", "paid"):
        dues = {due.what: due.amount for due in access.row(Offer, job=job).ways[0].plan}
        amount = dues[DEPOSIT if stage == "deposit" else BALANCE].amount
        when = sent_on + timedelta(days=3 if stage == "deposit" else 16)
        record_payment(
            access,
            job,
            on=min(when, today),
            amount=amount,
            how="transfer",
            reference=f"J{job.number:04d} {stage}",
        )
    else:
        job.refresh_from_db(fields=["stage"])
        if stage == S.CLOSED:
            close_job(access, job)
        else:
            move_to_stage(access, job, stage)
        for booking in access.rows(KitBooking).filter(holder__job=job) if stage == S.DOWN else ():
            check_in(access, booking, at=timezone.now(), kind=KitNote.Kind.CONDITION, what="")
    job.refresh_from_db(fields=["stage"])


def record_demo_time(access: Access, job: Job) -> None:
    """Two people, a little slower in the workshop than was quoted and a little quicker on site."""
    day = timezone.localtime(job.event_start).date()
    spells = (("workshop", "1.12", 1, "clusters"), ("site", "0.94", 0, "set-up and take-down"))
    counted = counted_for(access, job)
    for place, ratio, before, words in spells:
        each = round(counted[place] * Decimal(ratio) / 2)
        record_time(
            access,
            job,
            place=place,
            people=2,
            minutes=each,
            on=day - timedelta(days=before),
            words=words,
        )


def noon(day: date) -> datetime:
    return datetime.combine(day, time(12), ZONE)


def demo_link(token: str) -> str:
    return f"http://127.0.0.1:8000{reverse('jobs:offer-page', args=[token])}"
