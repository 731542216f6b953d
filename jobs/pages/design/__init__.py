"""The design screen, alternatives, pictures, shades."""
