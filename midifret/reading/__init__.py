"""Judged reading: what was played put beside what is written, and every note judged by place."""
