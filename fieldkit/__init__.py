"""fieldkit: plan, prove, set, check and rescue loudspeaker rigs from a terminal."""

__version__ = "0.1.0"
