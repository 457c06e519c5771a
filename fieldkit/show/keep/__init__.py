"""The show on the disk: file, copies, claims, the journal of unsaved work."""
