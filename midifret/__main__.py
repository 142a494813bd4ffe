"""Let `python -m midifret` do what `midifret` does."""

from midifret.cli.main import main

main()
