"""The commands: declared in one table, read by it; each lets the parts below work, and prints. No arithmetic here."""
