"""The practice book: every run and answer in a database, summaries beside them, one thread that writes."""
