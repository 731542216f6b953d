"""Build and packing lists, what is held and bought, the diary, an event moved."""
