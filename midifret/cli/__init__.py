"""The commands, one small module each, imported only when used; the composition root of the program."""
