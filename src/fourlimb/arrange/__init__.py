"""Placed hits -> charts that one drummer can play. In: `Listening`, `Kit`. Out: charts and reasons."""
