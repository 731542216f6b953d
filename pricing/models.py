"""Rows of the stores: the price book, what suppliers sell, what lies on the shelves, the hire kit."""

from pricing.book.models import FromADay, InForce, Price, RateCard, Supply
from pricing.stores.models.buying import OrderLine, Pack, PurchaseOrder, Receipt, Supplier, Trial
from pricing.stores.models.holder import Holder
from pricing.stores.models.kit import KitBooking, KitItem, KitNote, KitWish
from pricing.stores.models.stock import Reservation, StockMove

__all__ = [
    "FromADay",
    "Holder",
    "InForce",
    "KitBooking",
    "KitItem",
    "KitNote",
    "KitWish",
    "OrderLine",
    "Pack",
    "Price",
    "PurchaseOrder",
    "RateCard",
    "Receipt",
    "Reservation",
    "StockMove",
    "Supplier",
    "Supply",
    "Trial",
]
