"""Supplies: balance over phases, and the order to switch on and off."""
