"""Faults as edits of a circuit, and what each would read and sound like."""
