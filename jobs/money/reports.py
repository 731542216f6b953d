"""What came of the offers of a time, what is booked by month, what is due by age: from rows to tables."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING

from babel.dates import format_date
from django.db.models import Prefetch, Q
from django.utils.timezone import localtime, make_aware

from jobs.models import Job
from jobs.money.ledger import accepted_offer, standing_of
from jobs.money.tables import Cells, NamedCell, Table, TableColumn
from jobs.rows import jobs_of, offers_of
from pricing.core.instalments import Due
from pricing.core.money import Money, add_up, round_half_up

if TYPE_CHECKING:
    from studio.access import Access

S = Job.Stage
MONTHS = 12
QUIET = Decimal("0.5")  # of the mean month; fewer bookings are told


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportSpan:
    """A time from day to day, both in it."""

    since: date
    until: date

    @classmethod
    def year_to(cls, on: date) -> ReportSpan:
        """This month until today, and the eleven before it."""
        return cls(since=month_on(on, 1 - MONTHS), until=on)

    @property
    def start(self) -> datetime:
        return make_aware(datetime.combine(self.since, time.min))

    @property
    def end(self) -> datetime:
        """The moment after it."""
        return make_aware(datetime.combine(self.until + timedelta(days=1), time.min))

    def __contains__(self, day: date) -> bool:
        return self.since <= day <= self.until

    @property
    def months(self) -> list[date]:
        """The first day of each month that it touches."""
        count = (self.until.year - self.since.year) * 12 + self.until.month - self.since.month
        return [month_on(self.since, n) for n in range(count + 1)]


def month_on(day: date, months: int) -> date:
    """The first of the month that lies so many months on."""
    at = day.year * 12 + day.month - 1 + months
    return date(at // 12, at % 12 + 1, 1)


def percent_text(part: Decimal | int, whole: Decimal | int) -> Decimal | None:
    """To a tenth of a percent; None of nothing."""
    return round_half_up(Decimal(part) / Decimal(whole) * 100, 1) if whole else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sold:
    """A job that was offered, and what came of it."""

    stage: str
    offered_on: date  # its first version
    event_on: date
    net: Money  # of what was accepted, else of the newest version
    accepted: bool
    why: str
    words: str

    @property
    def outcome(self) -> str:
        """ "won", "lost" or "open"; what was called off after the yes was won all the same."""
        if self.stage in (S.LAPSED, S.DECLINED):
            return "lost"
        if self.accepted:
            return "won"
        return "lost" if self.stage == S.CALLED_OFF else "open"

    @property
    def stands(self) -> bool:
        """Booked: accepted, and not over before its time."""
        return self.outcome == "won" and self.stage != S.CALLED_OFF


def sold_tables(access: Access, span: ReportSpan, on: date) -> dict[str, Table]:
    """Everything of this page that needs no design to be counted again."""
    year = ReportSpan(since=month_on(on, 0), until=month_on(on, MONTHS) - timedelta(days=1))
    sold = gather_sold(access, span, year)
    offered = [job for job in sold if job.offered_on in span]
    tables = [
        won_table(offered, access.studio.currency),
        lost_table([job for job in offered if job.outcome == "lost"], access.studio.currency),
        months_table(access, sold, span, name="booked", title="Booked, by month of the event"),
        ahead_table(access, sold, year),
        due_table(access, on),
    ]
    return {table.name: table for table in tables}


def gather_sold(access: Access, *spans: ReportSpan) -> list[Sold]:
    """Jobs that were offered, or whose event is, in one of these times."""
    wanted = Q()
    for span in spans:
        wanted |= Q(event_start__gte=span.start, event_start__lt=span.end)
        wanted |= Q(offers__sent_at__gte=span.start, offers__sent_at__lt=span.end)
    offers = offers_of(access).light().order_by("version").select_related("acceptance")
    rows = access.rows(Job).filter(wanted, offers__isnull=False).distinct()
    found = rows.prefetch_related(Prefetch("offers", offers)).order_by("event_start", "pk")
    return [_sold(job) for job in found]


def _sold(job: Job) -> Sold:
    offers, yes = list(job.offers.all()), accepted_offer(job)
    figures = yes.acceptance.agreed.figures if yes else offers[-1].ways[0].figures
    return Sold(
        stage=job.stage, offered_on=localtime(offers[0].sent_at).date(),
        event_on=localtime(job.event_start).date(), net=figures.net,
        accepted=yes is not None, why=job.lost_why, words=job.lost_words,
    )  # fmt: skip


# --- won and lost ---


def won_table(offered: Sequence[Sold], currency: str) -> Table:
    """How many were won, and how much of the money, of all that are decided."""
    by = {word: [job for job in offered if job.outcome == word] for word in ("won", "lost", "open")}
    nets = {word: add_up((job.net for job in jobs), currency) for word, jobs in by.items()}
    decided, money = len(by["won"]) + len(by["lost"]), nets["won"] + nets["lost"]

    def row(word: str) -> Cells:
        rates = percent_text(len(by[word]), decided), percent_text(nets[word].amount, money.amount)
        return word, len(by[word]), nets[word], *rates

    left = ("still open", len(by["open"]), nets["open"], None, None)
    off = sum(job.stage == S.CALLED_OFF for job in by["won"])
    words = f"{off} of those that were won {'was' if off == 1 else 'were'} called off later."
    return Table(
        name="won", title="Won and lost",
        columns=(
            TableColumn(label="What came of it"), TableColumn(label="Jobs", kind="count"),
            TableColumn(label="Net offered", kind="money"), TableColumn(label="Of jobs decided", kind="percent"),
            TableColumn(label="Of their money", kind="percent"),
        ),
        rows=(row("won"), row("lost"), left) if offered else (),
        foot=("offered", len(offered), money + nets["open"], None, None), drawn=1,
        words=words if off else "", empty="No proposal was sent in this time.",
    )  # fmt: skip


def lost_table(lost: Sequence[Sold], currency: str) -> Table:
    """What was lost by its reason, the most money first."""
    by: defaultdict[str, list[Sold]] = defaultdict(list)
    for job in lost:
        by[_reason(job)].append(job)
    rows = [
        (why, len(jobs), add_up((j.net for j in jobs), currency), _in_words(jobs))
        for why, jobs in by.items()
    ]
    rows.sort(key=lambda row: (-row[2].amount, row[0]))
    return Table(
        name="lost", title="Why jobs were lost",
        columns=(
            TableColumn(label="Reason"), TableColumn(label="Jobs", kind="count"),
            TableColumn(label="Net offered", kind="money"), TableColumn(label="In words"),
        ),
        rows=tuple(rows), drawn=1,
        foot=("lost", len(lost), add_up((j.net for j in lost), currency), ""),
        empty="Nothing that was offered in this time was lost.",
    )  # fmt: skip


def _in_words(jobs: Sequence[Sold]) -> str:
    return "; ".join(job.words for job in jobs if job.words)


def _reason(job: Sold) -> str:
    if job.stage == S.CALLED_OFF:
        return "called off before a yes"
    return str(Job.Lost(job.why).label) if job.why else "no reason written down"


# --- by month ---


def booked_by_month(sold: Sequence[Sold], span: ReportSpan) -> dict[date, list[Sold]]:
    """What stands, by the first day of its event's month; months without any are there too."""
    months: dict[date, list[Sold]] = {first: [] for first in span.months}
    for job in sold:
        if job.stands and job.event_on in span:
            months[month_on(job.event_on, 0)].append(job)
    return months


def months_table(
    access: Access,
    sold: Sequence[Sold],
    span: ReportSpan,
    *,
    name: str,
    title: str,
    words: str = "",
) -> Table:
    months, currency = booked_by_month(sold, span), access.studio.currency
    rows = tuple(
        (
            NamedCell(shown=write_month(access, first), written=f"{first:%Y-%m}"),
            len(jobs),
            add_up((job.net for job in jobs), currency),
        )
        for first, jobs in months.items()
    )
    every = [job for jobs in months.values() for job in jobs]
    return Table(
        name=name, title=title, words=words, rows=rows, drawn=2,
        columns=(
            TableColumn(label="Month"), TableColumn(label="Jobs", kind="count"),
            TableColumn(label="Net", kind="money"),
        ),
        foot=("in all", len(every), add_up((job.net for job in every), currency)),
    )  # fmt: skip


def ahead_table(access: Access, sold: Sequence[Sold], year: ReportSpan) -> Table:
    """The coming year, this month first, and its quiet months in a sentence."""
    counts = {first: len(jobs) for first, jobs in booked_by_month(sold, year).items()}
    named = {write_month(access, first): count for first, count in counts.items()}
    return months_table(
        access, sold, year, name="ahead", title="The coming year", words=quiet_words(named)
    )


def quiet_words(counts: dict[str, int]) -> str:
    """Which months have fewer than half the bookings of the mean month.

    >>> quiet_words({"May": 3, "June": 1, "July": 2, "August": 0})
    'Quiet: August. A month of this year has 1.5 bookings on average; quiet is fewer than half of that.'
    """
    mean = Decimal(sum(counts.values())) / len(counts)
    if not mean:
        return "Nothing is booked for the coming year yet."
    usual = f"{round_half_up(mean, 1).normalize():f}"
    quiet = [month for month, count in counts.items() if count < QUIET * mean]
    if not quiet:
        return f"No month is quiet: each has at least half of the {usual} bookings of the average month."
    return (
        f"Quiet: {', '.join(quiet)}. A month of this year has {usual} bookings on average; "
        "quiet is fewer than half of that."
    )


def write_month(access: Access, first: date) -> str:
    return str(format_date(first, "LLLL y", locale=access.studio.language.replace("-", "_")))


# --- due ---

AGES = ("not due yet", "1 to 30 days late", "31 to 60 days late", "more than 60 days late")


def age_of(due: Due, on: date) -> str:
    """How late an instalment is on a date, in the words of its row."""
    late = (on - due.on).days
    return AGES[0] if late <= 0 else AGES[1] if late <= 30 else AGES[2] if late <= 60 else AGES[3]


def due_table(access: Access, on: date) -> Table:
    """What is still open of accepted jobs, by age today."""
    currency = access.studio.currency
    dues = list(_open_dues(access, on))
    many = Counter(age_of(due, on) for due in dues)
    sums = {
        age: add_up((due.amount for due in dues if age_of(due, on) == age), currency)
        for age in AGES
    }
    return Table(
        name="due", title="Money due today, by age",
        columns=(
            TableColumn(label="Age"), TableColumn(label="Instalments", kind="count"),
            TableColumn(label="Open", kind="money"),
        ),
        rows=tuple((age, many[age], sums[age]) for age in AGES) if dues else (),
        foot=("in all", len(dues), add_up(sums.values(), currency)), drawn=2,
        empty="Nothing is due from accepted proposals.",
    )  # fmt: skip


def _open_dues(access: Access, on: date) -> Iterator[Due]:
    for job in jobs_of(access).accepted().with_money():
        if now := standing_of(job, on=on, currency=access.studio.currency):
            yield from now.due
