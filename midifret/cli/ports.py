"""`midifret ports`: the MIDI ports that there are."""

from typing import Any

import click

from midifret.cli.app import json_option, print_document
from midifret.wire.driver import SYSTEM_VARIABLE
from midifret.wire.ports import PortList, list_ports


@click.command("ports", epilog=f"{SYSTEM_VARIABLE}=JACK (or ALSA) in the environment chooses between two.")
@json_option
def command(as_json: bool) -> int:
    """List the MIDI ports: inputs to hear a guitar from, outputs to send to.

    A guitar's file, `monitor` and `drill` take any part of a name that fits one port only.
    """
    ports = list_ports()
    if as_json:
        print_document(ports_document(ports))
    else:
        for line in ports_lines(ports):
            click.echo(line)
    return 0


def ports_document(ports: PortList) -> dict[str, Any]:
    """What `ports --json` prints: system (null without one), inputs, outputs, reason (null with a system)."""
    return {
        "system": ports.system,
        "inputs": list(ports.inputs),
        "outputs": list(ports.outputs),
        "reason": ports.reason or None,
    }


def ports_lines(ports: PortList) -> list[str]:
    """The ports as lines for people."""
    if ports.system is None:
        return [f"No MIDI ports: {ports.reason}"]
    lines = []
    for title, names in (("Inputs", ports.inputs), ("Outputs", ports.outputs)):
        lines.append(f"{title} ({ports.system}):")
        lines += [f"  {name}" for name in names] or ["  none"]
    return lines
