"""What can be wrong with a rig: one rule, one function, one finding; a file a family."""
