"""The report as one self-contained page, or printed: for the student, with the numbers for the teacher."""

from midifret.report_page.page import page_html
from midifret.report_page.paper import report_document
from midifret.report_page.values import Progress

__all__ = ["Progress", "page_html", "report_document"]
