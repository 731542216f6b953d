"""Dates, stores and the van: what is promised, packed, loaded, moved to another day."""
