"""Pages of the day's work, by feature: a view and its form side by side."""
