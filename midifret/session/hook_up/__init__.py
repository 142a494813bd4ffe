"""Hooking up a guitar: what it sends is worked out from a few plucks, a slide, silence and some noise."""

from midifret.session.hook_up.hook_up import HookUp, Setup
from midifret.session.hook_up.showing import COUNTED, HookedUp, Showing, Step, StringRow

__all__ = ["COUNTED", "HookUp", "HookedUp", "Setup", "Showing", "Step", "StringRow"]
