"""The next test, the order of fixes, the cautions, and the answer as a whole."""
