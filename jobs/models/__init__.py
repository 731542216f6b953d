"""Rows of the day's work: who asked, where, when, what was designed, offered, accepted and paid."""

from jobs.models.brief import Client, Job, Venue
from jobs.models.day import CallOff, Happening, PackTick, Postponement, TimeTaken
from jobs.models.design import JobDesign, KeptPiece, RoomPhoto, Shade
from jobs.models.hands import Hands
from jobs.models.money import Invoice, Payment
from jobs.models.offer import Acceptance, ClientLink, Offer, Question

__all__ = [
    "Acceptance",
    "CallOff",
    "Client",
    "ClientLink",
    "Hands",
    "Happening",
    "Invoice",
    "Job",
    "JobDesign",
    "KeptPiece",
    "Offer",
    "PackTick",
    "Payment",
    "Postponement",
    "Question",
    "RoomPhoto",
    "Shade",
    "TimeTaken",
    "Venue",
]
