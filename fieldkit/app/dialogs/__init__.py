"""Windows that ask, show or edit."""
