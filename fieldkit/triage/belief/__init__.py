"""How likely each fault is after what was observed."""
