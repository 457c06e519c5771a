"""The screens: each shows a part of the session, and keeps nothing of its own."""
