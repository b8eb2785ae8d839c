"""`python -m fourlimb`: the same commands where scripts are not on the path."""

from .cli import main

main()
