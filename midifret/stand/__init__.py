"""The stand: the page on the music stand, what it is told and what it tells, and who may see it."""
