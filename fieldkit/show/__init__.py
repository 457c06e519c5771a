"""The show document: its types, its file, its edits."""
