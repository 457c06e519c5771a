"""The way of a signal: chain, gains, delays, and the account of what to set on each output."""
