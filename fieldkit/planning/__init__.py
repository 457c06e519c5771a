"""Proposals, each from show to show: assign, lay runs, feed from the mains, keep on when something fails."""
