"""Rows of the stores."""
