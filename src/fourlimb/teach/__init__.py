"""Charts -> what to say and in which order. In: a chart and its grid. Out: `Plan`, cue sheet."""
