"""The plan proposed for boxes that nothing drives: problem, search, laying, judging."""
