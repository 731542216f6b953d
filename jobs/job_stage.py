"""The stages of a job: each word is written here, and which of them hold, live or are over."""

from __future__ import annotations

from django.db.models import TextChoices


class Stage(TextChoices):
    ENQUIRY = "enquiry", "enquiry"
    PRICED = "priced", "priced"
    OFFERED = "offered", "offered"
    ACCEPTED = "accepted", "accepted"  # the deposit is still due
    BOOKED = "booked", "booked"
    READY = "ready", "ready"
    UP = "up", "up"
    DOWN = "down", "down"
    CLOSED = "closed", "closed"
    LAPSED = "lapsed", "lapsed"
    DECLINED = "declined", "declined"
    CALLED_OFF = "called_off", "called off"


ENDED = (Stage.LAPSED, Stage.DECLINED, Stage.CALLED_OFF)
LIVE = tuple(stage for stage in Stage if stage not in (*ENDED, Stage.CLOSED))
HELD_FOR_DAYS = (Stage.OFFERED, Stage.ACCEPTED)  # of those that hold: until `Job.held_until`
AGREED = (Stage.ACCEPTED, Stage.BOOKED, Stage.READY)  # the client said yes, and nothing is up yet
# Supplies may be reserved and kit booked: before the deposit for some days, then until it is used.
MAY_HOLD = (Stage.OFFERED, *AGREED)
# Kit that is not free is told from the first sketch.
WILL_HOLD = (Stage.ENQUIRY, Stage.PRICED, *MAY_HOLD)
MOVABLE = (*AGREED, Stage.UP)  # what changes by *Move the event*; of what is up, its end alone
