"""Chart -> audio. In: `Sheet`. Out: `Audio` of drums, click and count-in."""
