"""The edge of the stand: its server in a thread of its own, its files, its sockets."""

from midifret.serve.addresses import LOOPBACK, PORT, lan_address, lan_addresses
from midifret.serve.answers import Page, read_files
from midifret.serve.link import Viewer
from midifret.serve.server import Arrived, Patience, StandServer

__all__ = [
    "LOOPBACK",
    "PORT",
    "Arrived",
    "Page",
    "Patience",
    "StandServer",
    "Viewer",
    "lan_address",
    "lan_addresses",
    "read_files",
]
