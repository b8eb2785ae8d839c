"""Chart -> pages and open score formats. In: `Sheet`. Out: MEI, SVG, PDF, MusicXML, MIDI."""
