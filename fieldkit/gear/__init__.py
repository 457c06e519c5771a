"""Equipment models and the gear library."""
