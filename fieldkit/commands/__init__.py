"""The commands: each reads its words, lets the parts below work, and prints. No arithmetic here."""
