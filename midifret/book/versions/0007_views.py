"""On which view the cues of a calibration were seen."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    # Before the stand there was the terminal alone.
    op.add_column("calibrations", sa.Column("view", sa.String(12), nullable=False, server_default="terminal"))
