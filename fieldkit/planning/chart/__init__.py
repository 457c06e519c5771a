"""What drives what, from models alone: the chart, the sets that fill an amplifier, what carries a list of boxes."""
