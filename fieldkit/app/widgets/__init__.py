"""Widgets drawn from the model."""
