"""Build and packing lists, what is held and bought, the diary, events moved or called off."""
