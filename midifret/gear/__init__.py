"""The player's gear: guitars, tunings and settings, read from YAML files that a person can edit."""

from midifret.gear.guitar import ControlBinding, Guitar, SignalBinding, channel_map
from midifret.gear.load import (
    check_guitar,
    check_settings,
    check_tunings,
    guitar_names,
    load_guitar,
    load_settings,
    load_tunings,
    shipped_guitar,
)
from midifret.gear.settings import ClickSettings, ClickSounds, ClickWay, Settings

__all__ = [
    "ClickSettings",
    "ClickSounds",
    "ClickWay",
    "ControlBinding",
    "Guitar",
    "Settings",
    "SignalBinding",
    "channel_map",
    "check_guitar",
    "check_settings",
    "check_tunings",
    "guitar_names",
    "load_guitar",
    "load_settings",
    "load_tunings",
    "shipped_guitar",
]
