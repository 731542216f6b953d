"""What the site tells rooms it does not know."""

from django.dispatch import Signal

# Sent once, inside the transaction that opens a studio: access, tax_name (str), and as Decimal tax_percent, hour
# (what one of work earns) and least (the least price of a job).
studio_opened = Signal()

# Sent by the first start for a currency (str): the price book answers what it proposes, with hour, least, tax_name
# and tax_percent as `studio_opened` has them, or None where it has nothing to propose.
figures_wanted = Signal()

# Sent by the first start: figures (studio.first_prices.Figures). Answered with worked pieces, as a tuple of
# studio.first_prices.FirstPiece.
pieces_wanted = Signal()

# Sent by the first start: figures, piece (a key of those pieces), asked (Decimal, tax included). Answered with what
# an hour then earns (Decimal), or with a sentence (str) where none makes that price.
hour_wanted = Signal()

# Sent by the mail worker each time before it looks for letters: other rooms write theirs.
before_sending = Signal()

# Sent before a studio's currency changes: studio. Rooms that hold amounts in it answer what they are (str), or "".
currency_changes = Signal()
