"""The entry line: one line of words adds boxes, amplifiers, racks, zones, supplies, stock or a run to a show."""
