"""Composes and renders the demo song, "Night Ferry": `python -m demo.make`."""
