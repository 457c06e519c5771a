"""Fixes for one finding: single edits, processor outputs, other leads."""
