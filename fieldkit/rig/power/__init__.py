"""What units take from the mains, and the supplies that carry it."""
