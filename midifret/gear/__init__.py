"""The player's gear: guitars, tunings and settings, read from YAML files that a person can edit."""
