"""The terminal: driver, painting, keys in their turn, colours, and how it all ends."""
