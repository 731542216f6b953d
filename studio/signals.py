"""What the site tells rooms it does not know."""

from django.dispatch import Signal

# Sent once, inside the transaction that opens a studio: seat, tax_name (str), tax_percent (Decimal).
studio_opened = Signal()

# Sent by the mail worker each time before it looks for letters: other rooms write theirs.
before_sending = Signal()

# Sent before a studio's currency changes: studio. Rooms that hold amounts in it answer what they are (str), or "".
currency_changes = Signal()
