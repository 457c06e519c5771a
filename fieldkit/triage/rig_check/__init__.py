"""The rig check: what each line should read, the verdict on what it read, and the log."""
