"""Pages of the stores."""
