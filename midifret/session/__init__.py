"""The live run: from a source through hearing and judging to journal, book and view; all of it handed in."""
