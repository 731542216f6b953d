"""Rows of the day's work: who asked, where, when, what was designed, offered, accepted and paid."""

from jobs.models.brief import Client, Job, Venue
from jobs.models.day import Cancellation, EventMove, LogEntry, PackTick, TimeTaken
from jobs.models.design import JobDesign, RoomPhoto, SavedPiece, Shade
from jobs.models.money import Invoice, Payment
from jobs.models.offer import Acceptance, ClientLink, Offer, Question
from jobs.models.practice import StudioPractice

__all__ = [
    "Acceptance",
    "Cancellation",
    "Client",
    "ClientLink",
    "EventMove",
    "Invoice",
    "Job",
    "JobDesign",
    "LogEntry",
    "Offer",
    "PackTick",
    "Payment",
    "Question",
    "RoomPhoto",
    "SavedPiece",
    "Shade",
    "StudioPractice",
    "TimeTaken",
    "Venue",
]
