"""What several screens do alike: add, edit, assign, fail over, recover."""
