"""The buying plan as values: what is needed, sold, bought. Pure."""
