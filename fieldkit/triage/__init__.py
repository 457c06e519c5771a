"""Faults as edits of a line, what they would read and sound like, and the next test."""
