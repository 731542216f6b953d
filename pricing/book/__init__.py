"""The price book: supplies, prices and rates as rows, and their pages."""
