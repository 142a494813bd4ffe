"""Which devices were paired with the stand: kept in the home folder, for their owner alone."""

import json
from collections.abc import Sequence
from pathlib import Path

from midifret.cli.app import warn
from midifret.cli.shelf_choices import write_kept
from midifret.files import Home
from midifret.stand.access import MOST_PAIRED, Pairing
from midifret.stand.codes import Rights

_VERSION = 1
_MOST_BYTES = 65_536


def devices_path(home: Home) -> Path:
    """The file in which they are kept. It holds no cookie, only proofs by which one is known again."""
    return home.root / "stand-devices.json"


def kept_devices(home: Home) -> tuple[Pairing, ...]:
    """Return the devices that were paired before; a file that is damaged is told, and gives none."""
    path = devices_path(home)
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise ValueError
        document = json.loads(path.read_bytes())
        if document["version"] != _VERSION:
            raise ValueError
        found = [
            Pairing(str(one["proof"]), Rights(one["rights"]), int(one["day"])) for one in document["devices"]
        ]
    except FileNotFoundError:
        return ()
    except (OSError, ValueError, TypeError, KeyError):
        warn(f"{path} cannot be read: devices have to be paired anew")
        return ()
    return tuple(found[-MOST_PAIRED:])


def keep_devices(home: Home, devices: Sequence[Pairing]) -> None:
    """Keep the devices for the next start. Raises Unavailable."""
    kept = [{"proof": one.proof, "rights": one.rights.value, "day": one.day} for one in devices]
    write_kept(home, devices_path(home), {"version": _VERSION, "devices": kept})
