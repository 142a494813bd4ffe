"""The plan and forecast for a player of the book, for commands that show them beside other things."""

from midifret.cli.app import App, warn
from midifret.cli.planning import Planning
from midifret.cli.remembering import waiting_answers
from midifret.cli.today import read_planning
from midifret.practice.ahead import Ahead, look_ahead
from midifret.terms import BadInput

# Memory takes in some 5,000 answers a second: with more that wait, nobody waits for a report [ours].
MOST_WAITING = 20_000


def planning_beside(app: App, player: str) -> Planning | None:
    """Return the plan of today; None, which is told, where none can be made or memory would take too long."""
    try:
        if app.settings.database_url or app.home.book.exists():
            with app.open_book() as book:
                waiting = waiting_answers(book, player)
            if waiting > MOST_WAITING:
                warn(
                    f"{waiting:,} answers wait for what you remember to be worked out, which takes a while: "
                    "`midifret today` does it, once. Until then there is no plan and no forecast here."
                )
                return None
        return read_planning(app, player, app.guitar(None).neck)
    except BadInput as error:
        warn(f"{error}. There is no plan and no forecast.")
        return None


def ahead_of(app: App, player: str) -> Ahead | None:
    """Return the forecast for a player; None where no plan can be made, which is told."""
    planning = planning_beside(app, player)
    return None if planning is None else look_ahead(planning.given)
