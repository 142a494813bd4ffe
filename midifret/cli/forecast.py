"""What is forecast for a player of the book, for the commands that show it."""

from midifret.cli.app import App, warn
from midifret.cli.today import read_planning
from midifret.practice.ahead import Ahead, look_ahead
from midifret.terms import BadInput


def ahead_of(app: App, player: str) -> Ahead | None:
    """Return the forecast for a player; None where no plan can be made, which is told."""
    try:
        planning = read_planning(app, player, app.guitar(None).neck)
    except BadInput as error:
        warn(f"{error}. There is no forecast.")
        return None
    return look_ahead(planning.given)
