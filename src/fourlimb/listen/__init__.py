"""Recording -> grid and hits. In: decoded sound, a MIDI performance. Out: `Listening`."""
