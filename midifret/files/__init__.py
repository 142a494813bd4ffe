"""Files that people write: YAML read safely with line and column, models checked against it, folders."""

from midifret.files.document import Document, Node, parse_document, read_document
from midifret.files.fields import FileModel, Flag, choice, refuse
from midifret.files.home import Home
from midifret.files.models import check_model
from midifret.files.shipped import shipped_folder

__all__ = [
    "Document",
    "FileModel",
    "Flag",
    "Home",
    "Node",
    "check_model",
    "choice",
    "parse_document",
    "read_document",
    "refuse",
    "shipped_folder",
]
