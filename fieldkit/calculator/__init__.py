"""The calculator: expressions with units, trade functions and conversions."""
