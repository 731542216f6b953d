"""From rows to a buying plan, and from a plan to orders."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from decimal import ROUND_CEILING, Decimal
from typing import TYPE_CHECKING

from django.db import transaction
from django.db.models import Max, Q

from pricing.core.supply_keys import SupplyKey, parse_key, write_key
from pricing.models import OrderLine, Pack, PurchaseOrder, Reservation, Supplier
from pricing.stores.incoming import coming
from pricing.stores.plan import buying
from pricing.stores.plan.buying import Demand, Grade, Plan
from pricing.stores.plan.wares import Amounts, PackOffer, SupplierTerms
from pricing.stores.stock import holdings

if TYPE_CHECKING:
    from studio.access import Access

GRADES = {"professional": Grade.PROFESSIONAL, "party": Grade.PARTY, "": None}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What a plan is made for."""

    holders: tuple[int, ...] = ()  # rows that hold; all that is reserved where empty
    until: date | None = None  # needed by then
    floor: Grade | None = Grade.PROFESSIONAL
    time_limit_s: float = 10
    found: buying.Found | None = None  # the plan that was shown


def demands(access: Access, wanted: Wanted) -> list[Demand]:
    """What is reserved, in whole pieces or metres, by key and day."""
    return _by_day(access.rows(Reservation).filter(_inside(wanted)))


def promised_elsewhere(access: Access, wanted: Wanted, keys: set[str]) -> list[Demand]:
    """What stands reserved for others, of these keys. All of it, whatever its day: a job that was planned for
    is not planned for again, so whoever takes its supplies has to bring them back.
    """
    inside = _inside(wanted)
    return _by_day(access.rows(Reservation).exclude(inside).filter(key__in=keys)) if inside else []


def _inside(wanted: Wanted) -> Q:
    inside = Q(holder__in=wanted.holders) if wanted.holders else Q()
    return inside & Q(needed_by__lte=wanted.until) if wanted.until else inside


def _by_day(rows: Iterable[Reservation]) -> list[Demand]:
    sums: defaultdict[tuple[str, date], Decimal] = defaultdict(Decimal)
    for row in rows:
        sums[row.key, row.needed_by] += row.quantity
    return [
        Demand(key=key, quantity=whole_quantity(many), needed_by=day)
        for (key, day), many in sorted(sums.items(), key=lambda item: (item[0][1], item[0][0]))
    ]


def whole_quantity(quantity: Decimal) -> int:
    """Up to the next whole one."""
    return int(quantity.to_integral_value(ROUND_CEILING))


def make_plan(access: Access, wanted: Wanted, *, on: date) -> Plan:
    """The cheapest orders for what is wanted, less what lies there and is on its way and promised to no other."""
    needs = demands(access, wanted)
    held = holdings(access)
    keys = {need.key for need in needs}
    others = promised_elsewhere(access, wanted, keys)
    later: Counter[str] = Counter()
    for other in others:
        later[other.key] += other.quantity
    return buying.plan(
        needs,
        packs_for(access, keys, on=on),
        [
            SupplierTerms(name=s.name, delivery=s.delivery, minimum=s.minimum)
            for s in access.rows(Supplier).order_by("pk")
        ],
        on=on,
        stock={k: max(int(held[k].on_hand), 0) for k in keys if k in held},
        on_order=[order for order in coming(access, on=on) if order.key in keys],
        value_of_leftover=Decimal("0.5"),
        used_later=later,
        promised=others,
        time_limit_s=wanted.time_limit_s,
        floor_grade=wanted.floor,
        found=wanted.found,
    )


def packs_for(access: Access, keys: Iterable[str], *, on: date) -> list[PackOffer]:
    """Every pack that holds something of what is wanted; one "in any colour" once for each colour wanted.

    Always in the same order: among plans that cost the same the solver's choice hangs on it.
    """
    rows = access.rows(Pack).select_related("supplier").order_by("pk").filter(
        Q(valid_until=None) | Q(valid_until__gte=on), valid_from__lte=on
    )  # fmt: skip
    covered: defaultdict[SupplyKey, list[SupplyKey]] = defaultdict(list)
    for key in map(parse_key, sorted(keys)):
        for wider in replace(key, grade="").widening():
            covered[wider].append(key)
    found = []
    for row in rows:
        contents = {str(k): int(n) for k, n in row.contents.items()}
        if len(contents) > 1:
            if any(parse_key(key) in covered for key in contents):
                found.append(_pack(row, contents))
            continue
        ((held, many),) = contents.items()
        for key in covered.get(parse_key(held), ()):
            if not (key.grade == "party" and row.grade == "professional"):
                wanted = write_key(key)
                found.append(_pack(row, {wanted: many}, suffix=wanted))
    return found


def _pack(row: Pack, contents: dict[str, int], suffix: str = "") -> PackOffer:
    lead = row.supplier.lead_days if row.lead_days is None else row.lead_days
    return PackOffer(
        id=f"{row.pk}:{suffix}",
        supplier=row.supplier.name,
        contents=contents,
        price=row.price,
        lead_days=lead,
        grade=GRADES[row.grade],
        valid_from=row.valid_from,
        valid_until=row.valid_until,
        minimum=row.least,
    )


def unsent_orders(access: Access) -> list[PurchaseOrder]:
    """Orders that are made and neither sent nor given up; plans count on them."""
    rows = access.rows(PurchaseOrder).filter(sent_at=None, given_up_at=None)
    return list(rows.defer("pdf").order_by("number"))


@transaction.atomic
def order_plan(access: Access, plan: Plan, *, needed_by: date | None) -> list[PurchaseOrder]:
    """One order for each supplier of a plan, not sent yet."""
    access.lock_studio()
    last = access.rows(PurchaseOrder).aggregate(last=Max("number"))["last"] or 0
    suppliers = {row.name: row for row in access.rows(Supplier)}
    packs = {row.pk: row for row in access.rows(Pack)}
    made = []
    for number, planned in enumerate(plan.orders, last + 1):
        row = access.add(
            PurchaseOrder, number=number, supplier=suppliers[planned.supplier.name],
            delivery=planned.supplier.delivery, needed_by=needed_by, made_by=access.person,
        )  # fmt: skip
        for line in planned.lines:
            pack = packs[int(line.pack.id.partition(":")[0])]
            access.add(
                OrderLine, order=row, code=pack.code, name=_name(pack, line.pack.contents),
                contents=dict(line.pack.contents), price=pack.price, count=line.count,
                lead_days=line.pack.lead_days,
            )  # fmt: skip
        made.append(row)
    return made


def _name(pack: Pack, contents: Amounts) -> str:
    """The pack's name, with the colour it is wanted in where it comes in any."""
    if len(contents) > 1 or dict(pack.contents) == dict(contents):
        return pack.name
    (wanted,), (held,) = map(parse_key, contents), map(parse_key, pack.contents)
    return ", ".join([pack.name, *wanted.words[len(held.words) :]])[:200]
