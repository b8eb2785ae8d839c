"""fourlimb: a recorded song in, a whole drum lesson out.

The rooms are sub-packages, imported when asked for: `from fourlimb import listen, arrange`.
Nothing heavy is imported here, so that the command line starts at once.
"""

__version__ = "0.1.0"
