"""A show solved: ladder, network, limits, the evaluation of outputs and lines, and what a meter should read."""
