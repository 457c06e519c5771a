"""Keeping on when something fails: moves that bring back most, safe step by step, and the way back."""
