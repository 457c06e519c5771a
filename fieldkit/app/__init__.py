"""The terminal application: one session, a few screens, and the same few keys everywhere."""
